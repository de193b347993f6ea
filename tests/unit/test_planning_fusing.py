"""Stages solved together: which, with which weights, and what a bound says of each."""

import pytest

from bookings.domain.planning.fusing import fused, parted, weighted
from bookings.domain.planning.model import Model, Stage, StageResult
from bookings.domain.planning.solving import solve

MOST_A = Stage("a", [(0, 1)], is_most=True, known_bound=5, worst=0)
LEAST_B = Stage("b", [(1, 1)], known_bound=1, worst=4)
HALVES = Stage("c", [(2, 0.5)], known_bound=0, worst=2, unit=0.5)


def test_neighbours_of_known_range_are_solved_together() -> None:
    """A stage without a range or with too many values stands alone."""
    alone = Stage("alone", [(0, 1)])
    wide = Stage("wide", [(0, 1)], known_bound=0, worst=10_000_000)
    groups = fused([MOST_A, LEAST_B, alone, HALVES, wide])
    assert [[stage.name for stage in group] for group in groups] == [
        ["a", "b"],
        ["alone"],
        ["c"],
        ["wide"],
    ]


def test_one_more_of_a_stage_outweighs_all_that_follows() -> None:
    """b has four values and c five, counted in halves: a weighs 20, b 5, and a half of c 1."""
    whole = weighted((MOST_A, LEAST_B, HALVES))
    assert whole.terms == [(0, -20), (1, 5), (2, 1)]
    assert whole.known_bound == -100 + 5 + 0


@pytest.mark.parametrize(
    ("bound", "told"),
    [
        (-80 + 10 + 3, [(4, 4), (2, 2), (1.5, 1.5)]),
        (-80 + 10 + 1, [(4, 4), (2, 2), (1.5, 0.5)]),
        (-80 + 5 + 4, [(4, 4), (2, 1), (1.5, 0)]),
        (-81, [(4, 5), (2, 1), (1.5, 0)]),
        (None, [(4, 5), (2, 1), (1.5, 0)]),
    ],
)
def test_a_bound_of_the_sum_says_what_it_can_of_each_stage(bound, told) -> None:
    """The values are 4, 2 and 1.5, worth -80 + 10 + 3 together; bounds that are no longer reached
    leave the later stages with what was known of them.
    """
    group, values = (MOST_A, LEAST_B, HALVES), (4.0, 2.0, 3.0)
    results = parted(group, values, StageResult("whole", -67, bound))
    assert [(result.value, result.bound) for result in results] == told


def test_stages_together_come_to_the_same_as_one_by_one() -> None:
    """Weights 3, 4 and 5, room for 8: most things, then most weight, then not the third."""
    model = Model()
    taken = [model.binary() for _ in range(3)]
    weight = list(zip(taken, (3, 4, 5), strict=True))
    model.row(weight, most=8)
    count = [(column, 1) for column in taken]
    alone = [
        Stage("count", count, is_most=True),
        Stage("weight", weight, is_most=True),
        Stage("third", [(taken[2], 1)]),
    ]
    together = [
        Stage("count", count, is_most=True, known_bound=3, worst=0),
        Stage("weight", weight, is_most=True, known_bound=12, worst=0),
        Stage("third", [(taken[2], 1)], known_bound=0, worst=1),
    ]
    one, other = solve(model, alone, seconds=60), solve(model, together, seconds=60)
    assert one.values == other.values == (1, 0, 1)
    assert [s.value for s in one.stages] == [s.value for s in other.stages] == [2, 8, 1]
