"""Which of many weekly times a student could have whole, told on cells.

Of a thousand places of a term most are at hours at which the student cannot come, or off the grid
that the offering has by now.
"""

from datetime import datetime

from bookings.domain.grid import starts_on_grid
from bookings.domain.openings import WHOLE_DAY, Openings
from bookings.domain.parties import InstructorTime, StudentTime
from bookings.domain.policy import Policy
from bookings.domain.slots import SlotRequest, student_free
from bookings.domain.timeline import CELL, Horizon, runs
from bookings.domain.vocabulary import Grid
from bookings.domain.weekly import (
    WeeklyRequest,
    WeeklyTime,
    is_away,
    starts_of,
    term_policy,
)
from bookings.domain.weekly_cells import KnownStarts


class PossibleStarts:
    """Where one student could begin a lesson of one offering.

    `student` is without the lessons that are given up. Only the length and the grid of the
    request's offering are asked, and its term is the stretch of time.
    """

    def __init__(
        self, request: WeeklyRequest, student: StudentTime, policy: Policy, now: datetime
    ) -> None:
        first, last = (
            datetime(on.year, on.month, on.day, tzinfo=now.tzinfo)
            for on in (request.term.first_on, request.term.last_on)
        )
        until = last + 2 * WHOLE_DAY
        since = min(max(first - WHOLE_DAY, now), until)
        self._horizon = Horizon.spanning(since - WHOLE_DAY, until + WHOLE_DAY)
        self._offering, self._policy, self._now = request.offering, term_policy(policy), now
        asked = SlotRequest(request.offering, since, until + CELL)
        free = student_free(asked, student, policy, self._horizon)
        self._free = runs(free, request.offering.meeting_cells)
        self._on_grid = dict[int, int]()

    def holding(
        self, request: WeeklyRequest, at: WeeklyTime, instructor: InstructorTime
    ) -> KnownStarts | None:
        """The starts of both, where they hold every date of this time to come; None where one
        cannot be held. `instructor` is without the lessons that are given up.
        """
        starts = [start for _, start in starts_of(request, at, instructor.time_zone)]
        if None in starts:
            return None
        dates = 0
        for start in starts:
            if start is not None and start >= self._now and not is_away(instructor, start):
                dates |= 1 << self._horizon.index(start)
        # What costs least to know comes first.
        if dates & ~(self._free & self._in_hours(instructor)):
            return None
        unheld = self._horizon.full & ~self._horizon.busy_mask(instructor.meetings)
        if dates & ~runs(unheld, self._offering.held_cells):
            return None
        bookable = Openings(self._offering, instructor, self._policy, self._horizon).bookable
        known = KnownStarts(self._horizon, self._free & bookable)
        return None if dates & ~known.cells else known

    def _in_hours(self, instructor: InstructorTime) -> int:
        """Where the hours and the grid of this instructor have starts."""
        known = self._on_grid.get(instructor.id)
        if known is None:
            offering, horizon = self._offering, self._horizon
            hours = instructor.teachable(horizon) & ~horizon.busy_mask(instructor.busy)
            known = runs(hours, offering.meeting_cells)
            if offering.grid is not Grid.PACKED:
                known &= starts_on_grid(
                    offering.grid,
                    offering.step_minutes,
                    instructor.time_zone,
                    instructor.teaching,
                    horizon,
                )
            self._on_grid[instructor.id] = known
        return known
