"""How the hours that an instructor publishes are used, week by week.

Each minute of published time is booked, kept (a changeover, or busy in another calendar), lost or
free. Lost to packing is a free stretch in which not even the shortest lesson fits. A lesson fits if
its minutes lie in published time; its changeover may run past it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from bookings.domain.local_days import midnight
from bookings.domain.parties import InstructorTime
from bookings.domain.timeline import CELL_MINUTES, Horizon, stretches

WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class WeekUse:
    """Minutes of one local week, from Monday. `booked` counts booked minutes outside published
    hours too; the other four add up to `published` with those inside it.
    """

    monday: date
    published: int
    booked: int
    booked_outside: int
    kept: int
    lost: int
    free: int


def weeks_used(
    instructor: InstructorTime, first_on: date, weeks: int, *, shortest_minutes: int | None
) -> list[WeekUse]:
    """So many weeks from the Monday `first_on` on the clock of the instructor's hours.

    `shortest_minutes` is the length of their shortest lesson; None where they teach none, and then
    nothing is lost.
    """
    mondays = [first_on + WEEK * number for number in range(weeks)]
    return [_week(instructor, monday, shortest_minutes) for monday in mondays]


def _week(instructor: InstructorTime, monday: date, shortest: int | None) -> WeekUse:
    here = instructor.time_zone
    horizon = Horizon.spanning(midnight(monday, here), midnight(monday + WEEK, here))
    published = instructor.teachable(horizon)
    booked = horizon.busy_mask(instructor.taught)
    held = horizon.busy_mask(instructor.meetings) | horizon.busy_mask(instructor.busy) | booked
    free = published & ~held
    lost = _too_short(free, shortest)
    return WeekUse(
        monday=monday,
        published=_minutes(published),
        booked=_minutes(booked),
        booked_outside=_minutes(booked & ~published),
        kept=_minutes(published & held & ~booked),
        lost=lost,
        free=_minutes(free) - lost,
    )


def _too_short(free: int, shortest: int | None) -> int:
    """The minutes of free stretches that are shorter than the shortest lesson."""
    if shortest is None:
        return 0
    lengths = [(past - first) * CELL_MINUTES for first, past in stretches(free)]
    return sum(length for length in lengths if length < shortest)


def _minutes(mask: int) -> int:
    return mask.bit_count() * CELL_MINUTES


def fullest(ahead: Sequence[WeekUse]) -> WeekUse | None:
    """Of these weeks the one with published hours that has the fewest free minutes, the first of
    several; None where no week has any.
    """
    open_weeks = [week for week in ahead if week.published]
    return min(open_weeks, key=lambda week: week.free, default=None)
