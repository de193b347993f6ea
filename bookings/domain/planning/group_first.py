"""Greedy first answers: a plan at once, before the solver is asked for a better one."""

from datetime import timedelta

from bookings.domain.burden import HARD
from bookings.domain.planning.group import GroupProblem
from bookings.domain.planning.group_options import Alike, Counts, Option


def most_meetings(problem: GroupProblem, options: tuple[Option, ...]) -> list[int]:
    """For each option, how many meetings of a series can be held from it on, it included."""
    counts = [1] * len(options)
    best_from = [0] * (len(options) + 1)
    for i in range(len(options) - 1, -1, -1):
        later = next(
            (j for j in range(i + 1, len(options)) if may_follow(problem, options[i], options[j])),
            len(options),
        )
        counts[i] = 1 + best_from[later]
        best_from[i] = max(best_from[i + 1], counts[i])
    return counts


def may_follow(problem: GroupProblem, one: Option, other: Option) -> bool:
    """Whether the other can be a later meeting of the same series."""
    return (
        not problem.collide(one.start, other.start)
        and other.start.on >= one.start.on + timedelta(days=problem.days_apart)
        and other.start.starts_at > one.start.starts_at
    )


def first_series(
    problem: GroupProblem, options: tuple[Option, ...], alike: list[Alike], meetings: int
) -> Counts:
    """Date by date, the option that most can still come to and that costs least so far."""
    counts = most_meetings(problem, options)
    able = list(range(len(alike)))
    paid = [a.carried for a in alike]
    chosen: list[int] = []
    while len(chosen) < meetings:
        ways = [
            i
            for i, option in enumerate(options)
            if counts[i] >= meetings - len(chosen)
            and (not chosen or may_follow(problem, options[chosen[-1]], option))
            and (not chosen or option.band == options[chosen[0]].band)
        ]
        if not ways:
            return {}
        best = min(ways, key=lambda i: _price(alike, able, paid, i))
        chosen.append(best)
        able = [g for g in able if alike[g].costs[best] is not None]
        for g in able:
            paid[g] += alike[g].costs[best] or 0
    if sum(alike[g].count for g in able) > problem.places:
        able = sorted(able, key=lambda g: paid[g])[: problem.places]
    return {i: {g: alike[g].count for g in able} for i in chosen}


def _price(
    alike: list[Alike], able: list[int], paid: list[float], i: int
) -> tuple[int, bool, float, int]:
    """What choosing option i would cost: members lost, a hard hour, the greatest, the sum."""
    costs = [(g, alike[g].costs[i]) for g in able]
    coming = [(g, cost) for g, cost in costs if cost is not None]
    return (
        -sum(alike[g].count for g, _ in coming),
        any(cost >= HARD for _, cost in coming),
        max((paid[g] + cost for g, cost in coming), default=0),
        sum(alike[g].count * cost for g, cost in coming),
    )


def first_parallel(
    problem: GroupProblem, options: tuple[Option, ...], alike: list[Alike], most: int
) -> Counts:
    """The options that most can come to, chosen one after another; first among those of little
    burden, then with more, until everybody is placed.
    """
    sums = {a.carried + cost for a in alike for cost in a.costs if cost is not None and cost < HARD}
    able = min(sum(a.count for a in alike), most * problem.places)
    best: Counts = {}
    for limit in (*sorted(sums), None):
        found = _chosen(problem, options, alike, most, limit)
        if _placed(found) > _placed(best):
            best = found
        if _placed(best) == able:
            break
    return best


def _placed(counts: Counts) -> int:
    return sum(sum(here.values()) for here in counts.values())


def _chosen(
    problem: GroupProblem,
    options: tuple[Option, ...],
    alike: list[Alike],
    most: int,
    limit: float | None,
) -> Counts:
    """The choice in which nobody comes to carry more than the limit."""
    left = [a.count for a in alike]
    coming = [
        [g for g, a in enumerate(alike) if _may_come(a, i, limit)] for i in range(len(options))
    ]
    choices = [sum(a.costs[i] is not None for i in range(len(options))) for a in alike]
    free = list(range(len(options)))
    chosen: Counts = {}
    while free and len(chosen) < most:
        best = max(free, key=lambda i: sum(left[g] for g in coming[i]))
        here: dict[int, int] = {}
        places = problem.places
        for g in sorted(coming[best], key=lambda g: choices[g]):
            taken = min(left[g], places)
            if taken:
                here[g] = taken
            left[g] -= taken
            places -= taken
        if not here:
            break
        chosen[best] = here
        free = [i for i in free if not problem.collide(options[best].start, options[i].start)]
    return chosen


def _may_come(a: Alike, i: int, limit: float | None) -> bool:
    """Whether they can come to option i without carrying more than the limit after it."""
    cost = a.costs[i]
    if cost is None:
        return False
    return limit is None or (cost < HARD and a.carried + cost <= limit)
