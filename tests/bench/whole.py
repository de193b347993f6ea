"""The solver whole: find_slots over a school of 50 instructors, beside the building of its own
result rows.
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import cycle

from bookings.domain.hours import StoredHours, teachable
from bookings.domain.packing import losses
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    InstructorTime,
    Slot,
    SlotRequest,
    StudentTime,
    dated,
    find_slots,
)
from bookings.domain.timeline import CELL, Horizon, Period, periods
from bookings.domain.zones import zone
from tests.bench.core import LESSON, NOW, ZONES, week_in
from tests.bench.timing import median_of, paired, seconds_of

HEARD_BY = 3
READER = "Australia/Sydney"


def school(*, expanded: bool, changing: bool = False) -> Callable[[], list[Slot]]:
    """The search of F6b: 50 instructors over four zones, 28 days, every kind of rule at work on
    each of them. `changing` gives one of them another meeting before every search.
    """
    chance = random.Random(11)
    until = NOW + timedelta(days=28)
    around = Horizon.spanning(NOW - timedelta(days=9), until + timedelta(days=9))
    instructors = [_instructor(number, chance, around, expanded) for number in range(1, 51)]
    own = tuple(
        Period(NOW + timedelta(days=day, hours=6), NOW + timedelta(days=day, hours=7))
        for day in range(0, 28, 7)
    )
    posy = StudentTime(
        1,
        READER,
        adult_on=datetime(2034, 6, 1, tzinfo=UTC).date(),
        meetings=own,
        heard_by=HEARD_BY,
    )
    request = SlotRequest(LESSON, NOW, until)
    first, others = instructors[0], instructors[1:]
    changed = cycle(_with_one_more(first, until) if changing else [first])
    return lambda: dated(
        find_slots(request, [next(changed), *others], posy, Policy(), NOW), NOW, READER
    )


def _with_one_more(one: InstructorTime, until: datetime) -> list[InstructorTime]:
    """The instructor with a meeting more, in one variant for each free stretch of three weeks: each
    makes one day that no search has seen.
    """
    horizon = Horizon.spanning(NOW, until - timedelta(days=7))
    free = one.teachable(horizon) & ~horizon.busy_mask(one.meetings)
    starts = [p.starts_at for p in periods(free, horizon)]
    held = [Period(at, at + timedelta(minutes=30)) for at in starts]
    return [
        replace(
            one,
            taught=(*one.taught, Period(p.starts_at, p.ends_at - timedelta(minutes=5))),
            meetings=(*one.meetings, p),
        )
        for p in held
    ]


def _instructor(
    number: int, chance: random.Random, around: Horizon, expanded: bool
) -> InstructorTime:
    """Ten windows a week, 140 meetings, 40 busy times and two allowances, at random half hours."""
    time_zone = ZONES[number % len(ZONES)]
    teaching = week_in(time_zone)
    hours = teachable(teaching, around)
    starts = [
        p.starts_at + timedelta(minutes=30 * k)
        for p in periods(hours, around)
        for k in range(p.minutes // 30)
    ]
    taken = chance.sample(starts, 180)
    taught = tuple(Period(at, at + timedelta(minutes=25)) for at in taken[:140])
    return InstructorTime(
        number,
        time_zone,
        teaching,
        meetings=tuple(Period(p.starts_at, p.ends_at + timedelta(minutes=5)) for p in taught),
        busy=tuple(Period(at, at + timedelta(minutes=25)) for at in taken[140:]),
        taught=taught,
        allowed=frozenset(starts[:2]),
        stored=StoredHours(around, hours) if expanded else None,
    )


def rows_of(slots: Sequence[Slot]) -> Callable[[], list[Slot]]:
    """Builds the same rows anew from cells and numbers: two instants, the words of the days ahead,
    and the row.
    """
    length, clock = timedelta(minutes=LESSON.minutes), zone(READER)
    today = NOW.astimezone(clock).date()
    known = [
        (
            (slot.starts_at - NOW) // CELL,
            slot.instructor_id,
            slot.burden,
            slot.lost,
            slot.fit,
            slot.reasons[:-1],
            (slot.starts_at.astimezone(clock).date() - today).days,
        )
        for slot in slots
    ]

    def build() -> list[Slot]:
        found = []
        for cell, instructor_id, cost, lost, points, words, days in known:
            starts_at = NOW + cell * CELL
            ahead = f"In {days} days." if days > 1 else "Tomorrow." if days else "Today."
            reasons = (*words, ahead)
            found.append(
                Slot(starts_at, starts_at + length, instructor_id, cost, points, reasons, lost)
            )
        return found

    return build


def figures() -> tuple[dict[str, float], dict[str, str]]:
    """The figures of a whole search, and what is compared in each."""
    search, kept = school(expanded=False), school(expanded=True)
    found = search()
    build = rows_of(found)
    if not found == build() == kept():
        raise AssertionError("the rows built anew are not those that were found")
    both = paired(build, school(expanded=False, changing=True), runs=15)
    losses.cache_clear()
    cold = seconds_of(search)
    return {
        "slot_find_ms": both.second * 1e3,
        "slot_find_kept_ms": median_of(kept, runs=9) * 1e3,
        "slot_find_cold_ms": cold * 1e3,
        "slot_find_vs_rows": both.ratio,
    }, {
        "slot_find_ms": (
            "find_slots over 50 instructors in 4 zones and 28 days: 140 meetings, 40 busy times "
            "and 2 allowances each, load, a minor's "
            f"hours and own meetings; {len(found)} slots with fit and reasons, no limit; hours "
            "expanded within; lessons lost kept but for one day that is new"
        ),
        "slot_find_kept_ms": "the same with the hours' masks kept, as the endpoint has them",
        "slot_find_cold_ms": "the same once, with no lessons lost kept",
        "slot_find_vs_rows": (
            f"the same search over the building of its {len(found)} rows from cells and numbers, "
            "instants and words included "
            f"({both.first * 1e3:.1f} ms), in turn; rows identical but for the new day"
        ),
    }
