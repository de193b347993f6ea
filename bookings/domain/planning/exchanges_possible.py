"""Which of many weekly times a student could have whole, told on cells.

Of a thousand places of a term most are at hours at which the student cannot come, are taken by
lessons that stay, or are off the grid that the offering has by now. What many of them ask is told
once: the dates of a weekday and time, what holds for an instructor, and which starts are bookable
with the same lessons given up.
"""

from collections import defaultdict
from collections.abc import Collection
from datetime import date, datetime
from typing import NamedTuple

from bookings.domain.grid import starts_on_grid
from bookings.domain.openings import WHOLE_DAY, Openings
from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.policy import Policy
from bookings.domain.slots import SlotRequest, student_free
from bookings.domain.terms import TermDates
from bookings.domain.timeline import CELL, Horizon, Period, runs
from bookings.domain.vocabulary import Grid
from bookings.domain.weekly import (
    WeeklyRequest,
    WeeklyTime,
    is_away,
    starts_of,
    term_policy,
)
from bookings.domain.weekly_cells import KnownStarts


class _Clear(NamedTuple):
    """What holds for one instructor, whichever lessons are given up.

    `starts` are cells in which hours and grid have a start and the student can come; `unheld` are
    cells without a meeting; `held` are the meetings by their start.
    """

    starts: int
    unheld: int
    held: dict[datetime, list[Period]]


class PossibleStarts:
    """Where one student could begin a lesson of one offering in a term.

    `student` is without the lessons that are given up.
    """

    def __init__(
        self,
        term: TermDates,
        offering: OfferingRules,
        student: StudentTime,
        policy: Policy,
        now: datetime,
    ) -> None:
        first, last = (
            datetime(on.year, on.month, on.day, tzinfo=now.tzinfo)
            for on in (term.first_on, term.last_on)
        )
        until = last + 2 * WHOLE_DAY
        since = min(max(first - WHOLE_DAY, now), until)
        self._horizon = Horizon.spanning(since - WHOLE_DAY, until + WHOLE_DAY)
        self._offering, self._policy, self._now = offering, term_policy(policy), now
        asked = SlotRequest(offering, since, until + CELL)
        free = student_free(asked, student, policy, self._horizon)
        self._free = runs(free, offering.meeting_cells)
        self._ahead = dict[tuple[frozenset[date], WeeklyTime, str], list[datetime] | None]()
        self._clear = dict[int, _Clear]()
        self._bookable = dict[tuple[int, frozenset[datetime]], int]()

    def holding(
        self,
        request: WeeklyRequest,
        at: WeeklyTime,
        instructor: InstructorTime,
        given_up: frozenset[datetime],
    ) -> KnownStarts | None:
        """The starts of both, where they hold every date of this time to come; None where one
        cannot be held. The instructor's meetings that start at one of `given_up` do not count.
        """
        starts = self._starts_ahead(request, at, instructor.time_zone)
        if starts is None:
            return None
        dates = 0
        for start in starts:
            if not instructor.teaching.away or not is_away(instructor, start):
                dates |= 1 << self._horizon.index(start)
        # What costs least to know comes first.
        clear = self._clear_of(instructor)
        if dates & ~clear.starts or dates & ~self._unheld(clear, given_up):
            return None
        known = KnownStarts(self._horizon, self._bookable_of(instructor, given_up))
        return None if dates & ~known.cells else known

    def _starts_ahead(
        self, request: WeeklyRequest, at: WeeklyTime, time_zone: str
    ) -> list[datetime] | None:
        """The starts to come; None where the clocks jump over a date."""
        asked = request.without, at, time_zone
        if asked not in self._ahead:
            starts = [start for _, start in starts_of(request, at, time_zone)]
            ahead = [start for start in starts if start is not None and start >= self._now]
            self._ahead[asked] = None if None in starts else ahead
        return self._ahead[asked]

    def _unheld(self, clear: _Clear, given_up: Collection[datetime]) -> int:
        """Where a lesson with its changeover lies beside the meetings.

        Where another meeting overlaps one that is given up, it may be some cells too many.
        """
        room = [period for start in given_up for period in clear.held.get(start, ())]
        unheld = clear.unheld | self._horizon.busy_mask(tuple(room))
        return runs(unheld, self._offering.held_cells)

    def _bookable_of(self, instructor: InstructorTime, given_up: frozenset[datetime]) -> int:
        asked = instructor.id, given_up
        if asked not in self._bookable:
            left = instructor.without(given_up) if given_up else instructor
            openings = Openings(self._offering, left, self._policy, self._horizon)
            self._bookable[asked] = self._free & openings.bookable
        return self._bookable[asked]

    def _clear_of(self, instructor: InstructorTime) -> _Clear:
        if instructor.id not in self._clear:
            held = defaultdict[datetime, list[Period]](list)
            for period in instructor.meetings:
                held[period.starts_at].append(period)
            unheld = self._horizon.full & ~self._horizon.busy_mask(instructor.meetings)
            starts = self._free & self._in_hours(instructor)
            self._clear[instructor.id] = _Clear(starts, unheld, held)
        return self._clear[instructor.id]

    def _in_hours(self, instructor: InstructorTime) -> int:
        """Where the hours and the grid of this instructor have starts."""
        offering, horizon = self._offering, self._horizon
        hours = instructor.teachable(horizon) & ~horizon.busy_mask(instructor.busy)
        starts = runs(hours, offering.meeting_cells)
        if offering.grid is not Grid.PACKED:
            time_zone, teaching = instructor.time_zone, instructor.teaching
            step = offering.step_minutes
            starts &= starts_on_grid(offering.grid, step, time_zone, teaching, horizon)
        return starts
