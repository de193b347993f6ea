"""Choosing among slots: one for each start, the few that suit best, and what tells those apart."""

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from enum import StrEnum
from typing import TypeVar

from bookings.domain.burden import HARD
from bookings.domain.slots import Slot
from bookings.domain.zones import zone

CHOICE = 15
"""Points of fit that a choice of days, or of parts of a day, is worth among the best."""
T = TypeVar("T")
NOON, EVENING_AT = 12 * 60, 17 * 60


class Part(StrEnum):
    """A part of a local day."""

    MORNING = "morning"
    AFTERNOON = "afternoon"
    EVENING = "evening"


WINDOWS: dict[Part, tuple[int | None, int | None]] = {
    Part.MORNING: (None, NOON),
    Part.AFTERNOON: (NOON, EVENING_AT),
    Part.EVENING: (EVENING_AT, None),
}
"""The minutes of the day that hold a whole lesson of that part; None has no end."""


def part_of(instant: datetime, time_zone: str) -> Part:
    """In which part of the day something starts on that clock."""
    hour = instant.astimezone(zone(time_zone)).hour
    if hour < NOON // 60:
        return Part.MORNING
    return Part.AFTERNOON if hour < EVENING_AT // 60 else Part.EVENING


def one_a_start(slots: Iterable[Slot]) -> list[tuple[Slot, int]]:
    """For each start, in order, the slot that fits best and how many others there are.

    Of slots that fit equally well the first stays.
    """
    found: dict[datetime, tuple[Slot, int]] = {}
    for slot in slots:
        known = found.get(slot.starts_at)
        if known is None:
            found[slot.starts_at] = (slot, 0)
        else:
            kept, others = known
            found[slot.starts_at] = (slot if slot.fit > kept.fit else kept, others + 1)
    return [found[start] for start in sorted(found)]


def has_humane(slots: Iterable[Slot]) -> bool:
    """Whether any of these is at no hard hour."""
    return any(slot.burden < HARD for slot in slots)


def best(slots: Iterable[Slot], time_zone: str, n: int = 3) -> list[Slot]:
    """At most n slots that fit best, the best first; of equal ones the sooner.

    Three half hours of one morning are no choice: no two are in the same part of the same day of
    that clock. Another day goes before another part of a day already chosen, as long as it fits at
    most CHOICE points worse than the best. A hard hour is among them only if there is no other.
    """
    every = sorted(slots, key=lambda slot: (-slot.fit, slot.starts_at, slot.instructor_id))
    ranked = [slot for slot in every if slot.burden < HARD] or every
    clock = zone(time_zone)
    return spread(
        ranked,
        n,
        day=lambda slot: slot.starts_at.astimezone(clock).date(),
        part=lambda slot: part_of(slot.starts_at, time_zone),
        is_near=lambda slot: slot.fit >= ranked[0].fit - CHOICE,
    )


def spread(
    ranked: Sequence[T],
    n: int,
    *,
    day: Callable[[T], object],
    part: Callable[[T], Part],
    is_near: Callable[[T], bool],
) -> list[T]:
    """At most n of these, no two in one part of one day.

    Near ones of other days come first, then near ones, then any, each in their order.
    """
    days, parts = set[object](), set[tuple[object, Part]]()
    chosen: list[T] = []

    def take(may: Callable[[bool, bool], bool]) -> None:
        for one in ranked:
            if len(chosen) == n:
                return
            on = day(one)
            here = (on, part(one))
            if here not in parts and may(on not in days, is_near(one)):
                chosen.append(one)
                days.add(on)
                parts.add(here)

    take(lambda is_another_day, is_near: is_another_day and is_near)
    take(lambda is_another_day, is_near: is_near)
    take(lambda is_another_day, is_near: True)
    return chosen


def in_common(slots: Sequence[Slot]) -> tuple[str, ...]:
    """The reasons that all of these share; none of a single one, which has them to itself."""
    if len(slots) < 2:
        return ()
    return tuple(
        reason for reason in slots[0].reasons if all(reason in slot.reasons for slot in slots[1:])
    )


def told_apart(slots: Sequence[Slot], time_zone: str) -> list[tuple[str, ...]]:
    """For each of a few slots: a sentence true of no other, then the reasons that not all share."""
    shared = in_common(slots)
    return [
        (
            *([_alone(slot, slots, time_zone)] if len(slots) > 1 else []),
            *(reason for reason in slot.reasons if reason not in shared),
        )
        for slot in slots
    ]


def _alone(slot: Slot, slots: Sequence[Slot], time_zone: str) -> str:
    others = [other for other in slots if other is not slot]
    of_all = "of the two" if len(slots) == 2 else f"of the {_COUNTED.get(len(slots), 'few')}"
    part = part_of(slot.starts_at, time_zone)
    if all(slot.starts_at < other.starts_at for other in others):
        return f"The soonest {of_all}."
    if all(slot.fit > other.fit for other in others):
        return f"The best fit {of_all}."
    if all(part is not part_of(other.starts_at, time_zone) for other in others):
        return f"The only one {of_all} in the {part}."
    if all(slot.starts_at > other.starts_at for other in others):
        return f"The latest {of_all}."
    return f"The only one {of_all} on {slot.starts_at.astimezone(zone(time_zone)):%A} {part}."


_COUNTED = {3: "three", 4: "four", 5: "five"}
