"""The weekly times of a term: all of them counted and ranked, few of them judged.

Whoever lists weekly times shows a few hundred of thousands. What ranks a time, how many dates it
holds and what they cost, is counted here on masks; each date with its reason is judged only for the
times that are shown.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from functools import cached_property
from operator import attrgetter
from typing import NamedTuple

from bookings.domain.hours import DAY_MINUTES
from bookings.domain.openings import WHOLE_DAY, Openings
from bookings.domain.policy import Policy, earliest_start
from bookings.domain.slots import InstructorTime, SlotRequest, StudentTime, student_free
from bookings.domain.start_costs import StartCosts
from bookings.domain.timeline import CELL, CELL_MINUTES, Horizon, bits, runs
from bookings.domain.weekly import (
    WeeklyOption,
    WeeklyRequest,
    WeeklyTime,
    judge_weekly,
    term_policy,
)
from bookings.domain.weekly_cells import (
    WEEK_MINUTES,
    DatedCells,
    KnownStarts,
    dated_cells,
    is_first_date,
)
from bookings.domain.weekly_costs import NEVER

# Zones reach from -12 to +14 hours, so a local date begins and ends within two days of UTC
# midnight.
_PAD = timedelta(days=2)


class CountedTime(NamedTuple):
    """A weekly time that holds dates, by what ranks it among others; `first_at` is the first."""

    held_dates: int
    greatest_burden: int
    sum_of_burdens: int
    first_at: datetime
    instructor_id: int
    minute_of_week: int

    @property
    def at(self) -> WeeklyTime:
        return WeeklyTime(*divmod(self.minute_of_week, DAY_MINUTES))


class WeeklySearch:
    """The weekly times that a request can have.

    Dates that have begun count nowhere, so nobody's time before `now` need be known.
    """

    def __init__(
        self,
        request: WeeklyRequest,
        instructors: Sequence[InstructorTime],
        student: StudentTime,
        policy: Policy,
        now: datetime,
    ) -> None:
        self._request, self._student, self._policy, self._now = request, student, policy, now
        self._instructors = {one.id: one for one in instructors}
        first, last = request.term.first_on, request.term.last_on
        until = datetime.combine(last, time(), UTC) + _PAD
        since = min(max(datetime.combine(first, time(), UTC) - _PAD, now), until)
        held = request.offering.held_cells * CELL
        self._horizon = Horizon.spanning(since - WHOLE_DAY, until + WHOLE_DAY + held)
        self._asked = self._cells_from(since) & ~self._cells_from(until)
        self._free = self._asked & self._student_starts(
            replace(request, earliest=None, latest=None)
        )
        self._starts = dict[int, int]()
        self._dated = dict[str, list[DatedCells]]()

    @cached_property
    def ranked(self) -> list[CountedTime]:
        """Every weekly time of the offering's grid that holds a date, the best first.

        One with a lesson at an hour marked “never”, or outside the hours asked for, is left out.
        Ranked by most dates held, least greatest burden, least sum of burdens, earliest first
        meeting, instructor's id.
        """
        found = [one for each in self._instructors.values() for one in self._counted(each)]
        found.sort()  # as tuples: each column counts where those before are equal
        found.sort(key=attrgetter("held_dates"), reverse=True)  # equal ones stay in their order
        return found

    def option(self, counted: CountedTime, *, with_reasons: bool = True) -> WeeklyOption:
        """One of the ranked times, date by date; with or without the reason of each that fails."""
        instructor = self._instructors[counted.instructor_id]
        return judge_weekly(
            self._request,
            counted.at,
            instructor,
            self._student,
            self._policy,
            self._now,
            known=KnownStarts(self._horizon, self._starts_of(instructor)),
            with_reasons=with_reasons,
        )

    def _counted(self, instructor: InstructorTime) -> Iterator[CountedTime]:
        """The times of one instructor, in any order."""
        counts = dict[int, list[int]]()
        starts = self._starts_of(instructor)
        starts &= ~self._too_soon(instructor, starts)
        costs = self._costs
        for cells, shift in self._dated_in(instructor.time_zone):
            for cell in bits(starts & cells):
                cost, minute = costs[cell], (cell * CELL_MINUTES + shift) % WEEK_MINUTES
                count = counts.get(minute)
                if count is None:
                    counts[minute] = [1, cost, cost, cell]
                    continue
                count[0] += 1
                count[2] += cost
                if cost > count[1]:
                    count[1] = cost
        for minute, (held, greatest, total, first) in counts.items():
            if greatest < NEVER and self._follows(minute):
                first_at = self._horizon.instant(first)
                yield CountedTime(held, greatest, total, first_at, instructor.id, minute)

    def _starts_of(self, instructor: InstructorTime) -> int:
        """The cells in which the student may begin a lesson with this instructor."""
        known = self._starts.get(instructor.id)
        if known is None:
            offering, policy = self._request.offering, term_policy(self._policy)
            openings = Openings(offering, instructor, policy, self._horizon)
            is_any = self._free & openings.on_grid
            known = self._starts[instructor.id] = self._free & openings.bookable if is_any else 0
        return known

    def _too_soon(self, instructor: InstructorTime, starts: int) -> int:
        """Which of these starts are the first date of their weekly time, inside the lead time."""
        found = 0
        for cell in bits(starts & ~self._cells_from(earliest_start(self._now, self._policy))):
            if is_first_date(self._request, self._horizon.instant(cell), instructor, self._now):
                found |= 1 << cell
        return found

    def _dated_in(self, time_zone: str) -> list[DatedCells]:
        if time_zone not in self._dated:
            self._dated[time_zone] = list(dated_cells(self._request, time_zone, self._horizon))
        return self._dated[time_zone]

    @cached_property
    def _costs(self) -> "_Costs":
        unwanted = self._free & ~self._student_starts(self._request)
        offering = self._request.offering
        costs = StartCosts(self._student.costs, self._horizon, offering.meeting_cells)
        return _Costs(costs, frozenset(bits(unwanted)))

    def _student_starts(self, request: WeeklyRequest) -> int:
        """Where the student is free for a whole lesson, in the hours that the request asks for."""
        offering = request.offering
        since, until = self._horizon.starts_at, self._horizon.ends_at
        asked = SlotRequest(offering, since, until, request.earliest, request.latest)
        free = student_free(asked, self._student, self._policy, self._horizon)
        return runs(free, offering.meeting_cells)

    def _follows(self, minute: int) -> bool:
        after, step = self._request.after, self._request.offering.step_minutes
        return after is None or follows(WeeklyTime(*divmod(minute, DAY_MINUTES)), after, step)

    def _cells_from(self, instant: datetime) -> int:
        return self._horizon.between(self._horizon.index_from(instant), self._horizon.cells)


class _Costs(dict[int, int]):
    """What a lesson costs that starts in a cell; NEVER in the cells that are not wanted, so that no
    time may hold them.
    """

    def __init__(self, costs: StartCosts, unwanted: frozenset[int]) -> None:
        self._costs, self._unwanted = costs, unwanted

    def __missing__(self, cell: int) -> int:
        cost = self[cell] = NEVER if cell in self._unwanted else self._costs.cost(cell)
        return cost


def follows(at: WeeklyTime, after: WeeklyTime, step_minutes: int) -> bool:
    """Whether `at` is the first start of a grid of that step at or after `after`, on the same
    day.
    """
    return at.weekday == after.weekday and after.minute <= at.minute < after.minute + step_minutes
