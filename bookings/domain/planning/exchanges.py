"""Exchanges: families who each prefer another family's weekly time take it in cycles.

Every family holds one weekly time and gives a strict order of those it would rather have. Top
trading cycles (Shapley and Scarf 1974, who credit Gale; from memory): everybody points to the
holder of the best time still there, their own at last; each cycle takes what it points to and
leaves; and so on. At least one cycle closes in each round, so n families need at most n rounds.

What is known of it for strict orders (from memory: Roth and Postlewaite 1977, Roth 1982), and what
the tests show by enumeration: no group of families could do better among themselves without one of
them doing worse, no other outcome has that property, and no family gains by a false order.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from bookings.domain.errors import Refused


@dataclass(frozen=True, slots=True)
class WeeklyTime:
    """A weekly place that its family would exchange.

    `minutes` is a lesson's length. `level` is the student's; the instructor of this time teaches
    `lowest_level` to `highest_level`. `instructors` are those whom the family accepts. `wishes` are
    the weekly places that the family prefers to its own, the best first.
    """

    place_id: int
    minutes: int
    instructor_id: int
    level: int
    lowest_level: int
    highest_level: int
    instructors: tuple[int, ...]
    wishes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Move:
    """The family that holds `place_id` takes `takes_id`."""

    place_id: int
    takes_id: int


@dataclass(frozen=True, slots=True)
class Exchange:
    """One cycle: each move takes the place that the next one leaves, and the last the first's."""

    moves: tuple[Move, ...]


def is_compatible(mine: WeeklyTime, theirs: WeeklyTime) -> bool:
    """Whether the family of `mine` may take the place of `theirs`: length, level, instructor."""
    return (
        mine.place_id != theirs.place_id
        and mine.minutes == theirs.minutes
        and theirs.lowest_level <= mine.level <= theirs.highest_level
        and theirs.instructor_id in mine.instructors
    )


def exchanges(times: Sequence[WeeklyTime]) -> tuple[Exchange, ...]:
    """The cycles in which everybody gains, by their lowest place id, each beginning with it.

    Whoever is in none keeps their place. Refused("invalid") where a place stands twice, or where an
    order names a place twice, its own, one that is not there or one that is not compatible.
    """
    by_place = {time.place_id: time for time in times}
    _check(times, by_place)
    left, taken = set(by_place), dict[int, int]()
    while left:
        points = {place: _best_left(by_place[place], left) for place in left}
        cycle = _cycle(points, min(left))
        taken |= {place: points[place] for place in cycle}
        left -= set(cycle)
    begins = sorted(place for place, takes in taken.items() if place != takes)
    found, seen = [], set[int]()
    for place in begins:
        if place not in seen:
            cycle = _cycle(taken, place)
            seen |= set(cycle)
            found.append(Exchange(tuple(Move(one, taken[one]) for one in cycle)))
    return tuple(found)


def _best_left(time: WeeklyTime, left: set[int]) -> int:
    return next((wish for wish in time.wishes if wish in left), time.place_id)


def _cycle(points: dict[int, int], start: int) -> list[int]:
    """The cycle that one gets into from `start`, in its order."""
    path: list[int] = []
    at = start
    while at not in path:
        path.append(at)
        at = points[at]
    return path[path.index(at) :]


def _check(times: Sequence[WeeklyTime], by_place: dict[int, WeeklyTime]) -> None:
    if len(by_place) < len(times):
        raise Refused("invalid", "Name each weekly place once.")
    for time in times:
        if len(set(time.wishes)) < len(time.wishes):
            raise Refused("invalid", "Name each wished time once.", field="weekly_places")
        others = [by_place.get(wish) for wish in time.wishes]
        if not all(other is not None and is_compatible(time, other) for other in others):
            raise Refused(
                "invalid",
                "A wished time no longer fits: it has to have the same length, and an instructor "
                "who teaches this level and whom the family accepts. Take it out of the order.",
                field="weekly_places",
            )
