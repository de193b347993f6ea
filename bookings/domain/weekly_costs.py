"""What each hour of one student's week costs: the door to burden for whoever compares times.

`WeeklyCosts.of(period)` is the one measure. A list of slots, a weekly place and every joint plan
ask it for the burden of a start, and leave out what costs NEVER.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from bookings.domain.burden import DEFAULT_CURVE, HARD
from bookings.domain.hours import DAY_MINUTES
from bookings.domain.policy import is_minor
from bookings.domain.student_hours import (
    NOTHING_SAID,
    Opening,
    SaidHours,
    UsualHours,
    WishedWindow,
    usual_hours,
)
from bookings.domain.timeline import CELL_MINUTES, EPOCH, Period
from bookings.domain.vocabulary import Wish
from bookings.domain.wall import seconds, spans

NEVER = 21
"""The cost of an hour marked “never”: above every burden, so that it is offered to nobody."""
COSTS = {Wish.GLADLY: 0, Wish.POSSIBLE: 1, Wish.LAST: HARD, Wish.NEVER: NEVER}
_CELL_SECONDS = CELL_MINUTES * 60
_DAY_CELLS = DAY_MINUTES // CELL_MINUTES
_EPOCH_ON = EPOCH.date()


class Hour(NamedTuple):
    """What an hour costs the student: 0-20, or NEVER.

    `words` is a sentence where a family has spoken of it or where it is presumed, and empty where
    the curve alone counts. It is for families and admins, never for instructors.
    """

    cost: int
    words: str = ""


Day = tuple[Hour, ...]  # one for each 5-minute cell of a local day
_SCHOOL = Hour(NEVER, "School hours.")
_USUAL_SCHOOL = Hour(HARD, "Usual school hours.")
_BEDTIME = Hour(HARD, "After a usual bedtime.")
_MARKED = {wish: Hour(cost, f"An hour marked “{wish.words}”.") for wish, cost in COSTS.items()}
_EASIEST = Hour(0)


@dataclass(frozen=True, slots=True)
class WeeklyCosts:
    """The costs of one student, on their own clock; a minor before the local date `adult_on`.

    An adult's words replace the curve. For a minor the greater of both counts. Refused, when asked:
    "unknown-zone".
    """

    time_zone: str
    adult_on: date | None = None
    said: SaidHours = NOTHING_SAID
    _days: dict[int, Day] = field(default_factory=dict, init=False, compare=False, repr=False)
    _hours: dict[tuple[datetime, datetime], Hour] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )

    def of(self, period: Period) -> Hour:
        """The most costly of the period's 5-minute cells on the student's wall clock."""
        asked = period.starts_at, period.ends_at
        known = self._hours.get(asked)
        if known is None:
            known = self._hours[asked] = self._of(period)
        return known

    def _of(self, period: Period) -> Hour:
        first, last = seconds(period.starts_at), seconds(period.ends_at - datetime.resolution)
        worst = _EASIEST
        for span in spans(self.time_zone, first, last + 1):
            since, until = max(first, span.since), min(last, span.until - 1)
            if since <= until:
                opens = (since + span.offset) // _CELL_SECONDS
                closes = (until + span.offset) // _CELL_SECONDS
                worst = max(worst, self._worst(opens, closes))
        return worst

    def of_day(self, on: date) -> Day:
        """The hours of a local date, one for each 5-minute cell of a day of 24 hours."""
        return self._day((on - _EPOCH_ON).days)

    def _worst(self, first: int, last: int) -> Hour:
        """Over local cells counted from 1970-01-01T00:00, both included."""
        day, opens = divmod(first, _DAY_CELLS)
        last_day, closes = divmod(last, _DAY_CELLS)
        if day == last_day:
            return max(self._day(day)[opens : closes + 1])
        return max(
            *self._day(day)[opens:],
            *(hour for between in range(day + 1, last_day) for hour in self._day(between)),
            *self._day(last_day)[: closes + 1],
        )

    def _day(self, day: int) -> Day:
        known = self._days.get(day)
        if known is None:
            known = self._days[day] = self._laid_out(_EPOCH_ON + timedelta(days=day))
        return known

    def _laid_out(self, on: date) -> Day:
        said = self.said
        is_school_day = said.is_school_day(on)
        usual = usual_hours(self.adult_on, on) if said.is_presumed else None
        return _day_of(
            tuple(window for window in said.windows if window.weekday == on.weekday()),
            is_minor(self.adult_on, on),
            said.school if is_school_day else None,
            usual,
            is_school_day,
        )


@lru_cache(maxsize=4096)
def _day_of(
    windows: tuple[WishedWindow, ...],
    is_child: bool,
    school: Opening | None,
    usual: UsualHours | None,
    is_school_day: bool,
) -> Day:
    """A day by its windows, the curve, the hours of school, and what is presumed."""
    day = [Hour(DEFAULT_CURVE[cell * CELL_MINUTES // 60]) for cell in range(_DAY_CELLS)]
    for window in windows:
        marked = _MARKED[window.wish]
        for cell in _cells((window.opens, window.closes)):
            day[cell] = max(day[cell], marked) if is_child else marked
    if school is not None:
        _raise(day, school, _SCHOOL)
    if usual is not None:
        _raise(day, (usual.bedtime, DAY_MINUTES), _BEDTIME)
        if usual.school is not None and is_school_day:
            _raise(day, usual.school, _USUAL_SCHOOL)
    return tuple(day)


def _cells(opening: Opening) -> range:
    return range(opening[0] // CELL_MINUTES, opening[1] // CELL_MINUTES)


def _raise(day: list[Hour], opening: Opening, least: Hour) -> None:
    """Makes each cell of these minutes cost at least that."""
    for cell in _cells(opening):
        day[cell] = max(day[cell], least)


def stretches_of(day: Sequence[Hour]) -> list[tuple[int, int, Hour]]:
    """The hours of a day as (opens, closes, hour), minutes of the day, joined where alike."""
    found: list[tuple[int, int, Hour]] = []
    for cell, hour in enumerate(day):
        opens = cell * CELL_MINUTES
        if found and found[-1][2] == hour:
            opens = found.pop()[0]
        found.append((opens, (cell + 1) * CELL_MINUTES, hour))
    return found
