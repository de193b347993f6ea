"""Several stages solved at once: a weighted sum that keeps their order exactly.

Each stage weighs one more than all that the later ones can differ by, so the best weighted sum has
the best values in their order. That saves a search for each stage, and is done for neighbours of
whole values with a known range, as long as the weights stay small enough to be exact.

From a bound B of the weighted sum W f + g, with g at most `high`, follows f >= (B - high) / W; and
once f is known to be best, the same for what follows in g, with B - W f.
"""

from collections.abc import Iterable
from itertools import accumulate
from math import ceil, inf, prod

from bookings.domain.planning.model import TOLERANCE, Stage, StageResult, Values, total

MOST = 3_000_000
"""The greatest range of a weighted sum."""


def fused(stages: Iterable[Stage]) -> list[tuple[Stage, ...]]:
    """The stages in order, neighbours together as far as their ranges allow."""
    groups: list[tuple[Stage, ...]] = []
    for stage in stages:
        if groups and prod(_width(member) for member in (*groups[-1], stage)) <= MOST:
            groups[-1] = (*groups[-1], stage)
        else:
            groups.append((stage,))
    return groups


def _width(stage: Stage) -> float:
    """How many values the stage can have; infinite where it has to be solved alone."""
    if stage.known_bound is None or stage.worst is None:
        return inf
    return abs(stage.worst - stage.known_bound) / stage.unit + 1


def _range(stage: Stage) -> tuple[float, float]:
    """The best and the worst value; both are known of a stage that is solved with others."""
    if stage.known_bound is None or stage.worst is None:
        return 0, 0
    return stage.known_bound, stage.worst


def _weights(group: tuple[Stage, ...]) -> list[float]:
    """The weight of each stage in the least weighted sum: negative where most is best."""
    widths = [_width(stage) for stage in group[:0:-1]]
    sizes = list(accumulate(widths, lambda size, width: size * width, initial=1.0))[::-1]
    return [
        (-size if stage.is_most else size) / stage.unit
        for size, stage in zip(sizes, group, strict=True)
    ]


def weighted(group: tuple[Stage, ...]) -> Stage:
    """One stage for the group; a group of one is that stage."""
    if len(group) == 1:
        return group[0]
    pairs = list(zip(group, _weights(group), strict=True))
    return Stage(
        " ".join(stage.name for stage in group),
        [(column, weight * by) for stage, weight in pairs for column, by in stage.terms],
        known_bound=sum(weight * _range(stage)[0] for stage, weight in pairs),
    )


def parted(group: tuple[Stage, ...], values: Values, whole: StageResult) -> tuple[StageResult, ...]:
    """What each stage of the group came to, from the values and the weighted sum's bound."""
    if len(group) == 1:
        return (whole,)
    results = []
    pairs = list(zip(group, _weights(group), strict=True))
    left = whole.bound
    for i, (stage, weight) in enumerate(pairs):
        value, bound = total(stage.terms, values), _range(stage)[0]
        if left is not None:
            high = sum(after * _range(later)[1] for later, after in pairs[i + 1 :])
            size = abs(weight) * stage.unit
            least = stage.unit * ceil((left - high) / size - TOLERANCE)
            bound = max(bound, least) if weight > 0 else min(bound, -least)
            bound = min(bound, value) if weight > 0 else max(bound, value)
            left = left - weight * value if bound == value else None
        results.append(StageResult(stage.name, value, bound))
    return tuple(results)
