"""The dates of a weekly place as cells: which cells begin one, and at which minute of the week."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple

from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES
from bookings.domain.parties import InstructorTime
from bookings.domain.terms import in_break
from bookings.domain.timeline import CELL_MINUTES, EPOCH, Horizon
from bookings.domain.wall import DAY, Seconds, joined, pieces, seconds, spans
from bookings.domain.weekly import WeeklyRequest, WeeklyTime, dates_of, instant_on, is_away
from bookings.domain.zones import zone

WEEK_MINUTES = 7 * DAY_MINUTES
_CELL_SECONDS = CELL_MINUTES * 60
_DAY_CELLS = DAY_MINUTES // CELL_MINUTES
_FIRST_WEEKDAY = EPOCH.weekday()  # 1970-01-01 was a Thursday


class DatedCells(NamedTuple):
    """Cells that lie on dates of the place, in a stretch in which the wall clock does not change.

    Of a wall time that the clock shows twice only the first cell is one. A cell begins
    (cell * CELL_MINUTES + shift) % WEEK_MINUTES minutes after Monday 00:00 on that clock.
    """

    cells: int
    shift: int


@dataclass(frozen=True, slots=True)
class KnownStarts:
    """Starts as cells of a horizon."""

    horizon: Horizon
    cells: int

    def __contains__(self, start: object) -> bool:
        if not isinstance(start, datetime):
            return False
        after = start - self.horizon.starts_at
        # Whole days and seconds: dividing by CELL takes three times as long.
        cell, rest = divmod(after.seconds, _CELL_SECONDS)
        cell += after.days * _DAY_CELLS
        return not rest and not after.microseconds and cell >= 0 and bool(self.cells >> cell & 1)


def dated_cells(request: WeeklyRequest, time_zone: str, horizon: Horizon) -> Iterator[DatedCells]:
    """The cells that begin on a date of the request on that clock, rising.

    The horizon begins a day before the first of them. Refused("unknown-zone").
    """
    begins = seconds(horizon.starts_at)
    days = joined(_days(request))
    shown_until = None
    for span in spans(time_zone, begins, begins + horizon.cells * _CELL_SECONDS):
        first = span.since if shown_until is None else max(span.since, shown_until - span.offset)
        shown_until = span.until + span.offset
        if span.offset % 60:
            continue  # a local mean time with seconds: no minute of it starts a cell
        cells = 0
        for opens, closes in days:
            for since, until in pieces(opens, closes, (span._replace(since=first),)):
                cells |= horizon.between(
                    -((begins - since) // _CELL_SECONDS), -((begins - until) // _CELL_SECONDS)
                )
        yield DatedCells(cells, (begins + span.offset) // 60 + _FIRST_WEEKDAY * DAY_MINUTES)


def _days(request: WeeklyRequest) -> Iterator[Seconds]:
    """The dates of the term that are not left out, as wall seconds, rising."""
    term = request.term
    for day in range((term.last_on - term.first_on).days + 1):
        on = term.first_on + timedelta(days=day)
        if not in_break(term, on) and on not in request.without:
            midnight = (on - date(1970, 1, 1)).days * DAY
            yield midnight, midnight + DAY


def is_first_date(
    request: WeeklyRequest, starts_at: datetime, instructor: InstructorTime, now: datetime
) -> bool:
    """Whether no date of the same weekly time comes before this one.

    Dates that have begun, dates in a gap of the clock and days away are left out.
    """
    if starts_at - now < timedelta(days=6):
        return True  # a week less a clock change before it lies behind
    wall = starts_at.astimezone(zone(instructor.time_zone))
    at = WeeklyTime(wall.weekday(), wall.hour * 60 + wall.minute)
    for on in dates_of(request, at):
        if on >= wall.date():
            break
        try:
            before = instant_on(on, at, instructor)
        except Refused:
            continue
        if before >= now and not is_away(instructor, before):
            return False
    return True
