"""The model builder: known optima, the order of stages, stopping, and the same plan each time."""

import threading
from itertools import product

import pytest

from bookings.domain.planning.model import Model, Progress, Row, Stage, Values, total
from bookings.domain.planning.solving import solve

LONG = 60


def knapsack() -> tuple[Model, list[int]]:
    """Three things of weight 3, 4 and 5, and room for 7."""
    model = Model()
    taken = [model.binary() for _ in range(3)]
    model.row(list(zip(taken, (3, 4, 5), strict=True)), most=7)
    return model, taken


def hard_model(size: int = 40) -> tuple[Model, Stage]:
    """A market split: rows of equal sums that a tree search needs long for."""
    model = Model()
    taken = [model.binary() for _ in range(size)]
    over = [model.integer(0, 10_000) for _ in range(8)]
    for line in range(4):
        weights = [(37 * line + 61 * (i + 1) ** (line + 2)) % 100 for i in range(size)]
        model.row(
            [*zip(taken, weights, strict=True), (over[2 * line], 1), (over[2 * line + 1], -1)],
            least=sum(weights) // 2,
            most=sum(weights) // 2,
        )
    return model, Stage("split", [(column, 1) for column in over])


def test_a_small_model_has_its_known_optimum() -> None:
    """Values 4, 5 and 6 for weights 3, 4 and 5: the first two fit in 7 and are worth 9."""
    model, taken = knapsack()
    found = solve(
        model,
        [Stage("worth", list(zip(taken, (4, 5, 6), strict=True)), is_most=True)],
        seconds=LONG,
    )
    assert found.values == (1, 1, 0)
    assert [(stage.value, stage.bound, stage.is_proven) for stage in found.stages] == [(9, 9, True)]
    assert found.is_proven and not found.is_stopped and found.gap == 0


def test_a_later_stage_never_costs_an_earlier_one() -> None:
    """Among the fullest choices, two things, the lightest is taken, whatever a third would give."""
    model, taken = knapsack()
    count = Stage("count", [(column, 1) for column in taken], is_most=True)
    weight = Stage("weight", list(zip(taken, (5, 4, 3), strict=True)))
    found = solve(model, [count, weight], seconds=LONG)
    assert [stage.value for stage in found.stages] == [2, 9]
    turned = solve(model, [weight, count], seconds=LONG)
    assert [stage.value for stage in turned.stages] == [0, 0]


def test_a_stage_of_any_number_is_kept_within_its_slack() -> None:
    """A third of x + y is least at one third of 3, and then y is least."""
    model = Model()
    x, y = model.integer(0, 3), model.integer(0, 3)
    model.row([(x, 1), (y, 1)], least=3)
    thirds = Stage("thirds", [(x, 1 / 3), (y, 1 / 3)])
    found = solve(model, [thirds, Stage("y", [(y, 1)])], seconds=LONG)
    assert found.values == (3, 0) and found.is_proven


def test_all_values_of_small_models_agree_with_enumeration() -> None:
    """Two stages over five columns with fixed weights: the best of all 32 choices."""
    for seed in range(30):
        weights = [
            [(seed * 7 + 13 * line + 29 * i * (line + 2)) % 9 for i in range(5)]
            for line in range(3)
        ]
        model = Model()
        taken = [model.binary() for _ in range(5)]
        model.row(list(zip(taken, weights[0], strict=True)), most=12)
        stages = [
            Stage(str(line), list(zip(taken, weights[line], strict=True)), is_most=True)
            for line in (1, 2)
        ]
        kept = [choice for choice in product((0.0, 1.0), repeat=5) if model.is_solved_by(choice)]
        best = max(tuple(total(stage.terms, choice) for stage in stages) for choice in kept)
        assert tuple(stage.value for stage in solve(model, stages, seconds=LONG).stages) == best


def test_a_model_without_a_solution_says_so() -> None:
    """Two of three columns are wanted and none allowed."""
    model, taken = knapsack()
    model.row([(column, 1) for column in taken], least=3)
    found = solve(model, [Stage("none", [])], seconds=LONG)
    assert found.values is None and found.is_impossible and not found.is_proven


def test_a_first_answer_that_reaches_a_known_bound_needs_no_solver() -> None:
    """The bound comes from the caller: with no time at all the stage is proven."""
    model, taken = knapsack()
    worth = list(zip(taken, (4, 5, 6), strict=True))
    stage = Stage("worth", worth, is_most=True, known_bound=9)
    found = solve(model, [stage], seconds=0, firsts=[(0, 0, 1), (1, 1, 0)])
    assert found.values == (1, 1, 0) and found.is_proven and not found.is_stopped


def test_a_first_answer_that_breaks_a_row_is_left_out() -> None:
    """All three things are too heavy; the answer that fits is taken."""
    model, taken = knapsack()
    stage = Stage("count", [(column, 1) for column in taken], is_most=True)
    found = solve(model, [stage], seconds=0, firsts=[(1, 1, 1), (1, 0, 0), (0.5, 0, 0)])
    assert found.values == (1, 0, 0)
    assert found.is_stopped and found.stages[0].bound is None


def test_rows_too_many_to_write_down_are_asked_for() -> None:
    """Cuts forbid the first and second thing together; the next best is the third alone or more."""
    model, taken = knapsack()
    pair = Row([(taken[0], 1), (taken[1], 1)], most=1)

    def cuts(values: Values) -> list[Row]:
        return [] if pair.is_kept_by(values) else [pair]

    stage = Stage("worth", list(zip(taken, (4, 5, 6), strict=True)), is_most=True)
    found = solve(model, [stage], seconds=LONG, cuts=cuts, firsts=[(1, 1, 0)])
    assert found.stages[0].value == 6 and found.is_proven


def test_who_watches_can_stop_with_the_best_so_far() -> None:
    """The first answer is there when the watcher says no at once."""
    model, stage = hard_model()
    start = solve(model, [stage], seconds=0.2).values
    assert start is not None
    seen: list[Progress] = []

    def watch(progress: Progress) -> bool:
        seen.append(progress)
        return len(seen) < 3

    found = solve(
        model, [stage, Stage("next", [(0, 1)])], seconds=LONG, watch=watch, firsts=[start]
    )
    assert found.is_stopped and found.values is not None
    assert found.stages[0].value <= total(stage.terms, start)
    assert not found.is_proven and found.stages[1].bound is None
    assert seen[0].stage == "split" and found.seconds < LONG


def test_what_a_watcher_raises_reaches_the_caller() -> None:
    """A fault in the report ends the solve and is not swallowed."""
    model, stage = hard_model()

    def watch(progress: Progress) -> bool:
        if progress.bound is not None:
            raise RuntimeError("the worker is gone")
        return True

    with pytest.raises(RuntimeError, match="the worker is gone"):
        solve(model, [stage], seconds=LONG, watch=watch)


def test_the_time_limit_is_for_all_stages_together() -> None:
    """After the limit the later stages are told with their value and without a bound."""
    model, stage = hard_model()
    found = solve(model, [stage, Stage("next", [(0, 1)])], seconds=0.5)
    assert found.is_stopped and found.stages[1].bound is None


def test_the_solver_prints_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    """Not even its name, which it prints from outside Python."""
    model, taken = knapsack()
    solve(model, [Stage("count", [(column, 1) for column in taken])], seconds=LONG)
    assert capfd.readouterr() == ("", "")


def test_other_threads_run_while_the_solver_works() -> None:
    """The solver lets go of the interpreter: a thread beside it counts on."""
    model, stage = hard_model()
    counted, is_over = [0], threading.Event()

    def count() -> None:
        while not is_over.wait(0.01):
            counted[0] += 1

    beside = threading.Thread(target=count)
    beside.start()
    solve(model, [stage], seconds=1)
    is_over.set()
    beside.join()
    assert counted[0] > 10


def test_a_proven_solution_is_the_same_each_time() -> None:
    """Many choices are equally good; one seed and one thread take the same."""
    model = Model()
    taken = [[model.binary() for _ in range(8)] for _ in range(8)]
    for line in (*taken, *zip(*taken, strict=True)):
        model.row([(column, 1) for column in line], least=1, most=1)
    stage = Stage("any", [(column, 1) for line in taken for column in line])
    assert len({solve(model, [stage], seconds=LONG).values for _ in range(5)}) == 1
