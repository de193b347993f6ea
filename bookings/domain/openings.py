"""Where one instructor can teach an offering, over a horizon: starts, and the lessons they lose.

What is the student's has no part in it.
"""

from bisect import bisect_left, bisect_right
from datetime import datetime, timedelta
from functools import cached_property

from bookings.domain.grid import starts_on_grid
from bookings.domain.load import Taught, barred, day_bars, other_bars
from bookings.domain.packed import packed_starts
from bookings.domain.packing import CELL_SECONDS, Day, Lesson, losses, lost_beyond_load
from bookings.domain.parties import InstructorTime, OfferingRules
from bookings.domain.policy import Policy
from bookings.domain.timeline import CELL, Horizon, bits, runs
from bookings.domain.vocabulary import Grid
from bookings.domain.wall import Seconds, seconds

WHOLE_DAY = timedelta(hours=28)
"""So far around a start an instructor's time is read, so that the start's local day is whole: zones
that jumped back by hours have had days of 27.
"""


def is_off_grid(
    starts_at: datetime, rules: OfferingRules, instructor: InstructorTime, policy: Policy
) -> bool:
    """Whether the grid has no such start; `starts_at` is in UTC.

    Packed starts are laid around what is taken: where no lesson fits, the grid says nothing.
    """
    if rules.grid is not Grid.PACKED:
        here = Horizon(starts_at, 1)
        time_zone, teaching = instructor.time_zone, instructor.teaching
        return not starts_on_grid(rules.grid, rules.step_minutes, time_zone, teaching, here)
    past = starts_at + WHOLE_DAY + rules.held_cells * CELL
    around = Horizon.spanning(starts_at - WHOLE_DAY, past)
    opening, i = Openings(rules, instructor, policy, around), around.index(starts_at)
    return bool(opening.fitting & ~opening.on_grid & 1 << i)


class Openings:
    """One instructor's starts for one offering, as cells of a horizon.

    The horizon reaches WHOLE_DAY and a held lesson beyond every start asked for.
    """

    def __init__(
        self, rules: OfferingRules, instructor: InstructorTime, policy: Policy, horizon: Horizon
    ) -> None:
        self._rules, self._instructor, self._policy = rules, instructor, policy
        self._horizon = horizon
        gap = max(policy.run_gap_minutes * 60, 1)
        self._lesson = Lesson(
            rules.minutes * 60, rules.held_minutes * 60, policy.run_minutes * 60, gap
        )
        hours = instructor.teachable(horizon) & ~horizon.busy_mask(instructor.busy)
        unheld = horizon.full & ~horizon.busy_mask(instructor.meetings)
        self._free = hours & unheld
        self.fitting = runs(hours, rules.meeting_cells) & runs(unheld, rules.held_cells)
        """Where a lesson lies in free time, with its changeover, on any grid."""
        self._lost = dict[int, dict[int, int]]()

    @cached_property
    def on_grid(self) -> int:
        """Where the grid has a start and a lesson fits; the load is not asked."""
        rules, instructor = self._rules, self._instructor
        if rules.grid is Grid.PACKED:
            return self._packed()
        return self.fitting & starts_on_grid(
            rules.grid, rules.step_minutes, instructor.time_zone, instructor.teaching, self._horizon
        )

    @cached_property
    def bookable(self) -> int:
        """Where the load lets a lesson start too, or the instructor has allowed it."""
        found = other_bars(self._taught, self._rules.minutes, self._policy, self._horizon)
        starts = self._kept_day & ~barred(found, self._horizon)
        for start in self._instructor.allowed:
            i = self._horizon.index(start)
            starts |= self.on_grid & self._horizon.between(i, i + 1)
        return starts

    def lost(self, i: int) -> int:
        """The lessons lost by a bookable start in cell i: see domain.packing."""
        position = self._day_of(i)
        first = self._days[position]
        if i in self._beyond_load:
            return lost_beyond_load(self._day(position), self._lesson, i - first)
        known = self._lost.get(position)
        if known is None:
            known = self._lost[position] = dict(losses(self._day(position), self._lesson))
        return known.get(i - first, 0)

    def week_of(self, i: int) -> int:
        """The local week, from Monday, in which cell i starts."""
        return self._day_of(i) // 7

    def _day_of(self, i: int) -> int:
        """The local date in which cell i starts, counted from a Monday."""
        return bisect_right(self._days, i) - 1

    @cached_property
    def _taught(self) -> Taught:
        minutes, instructor = self._rules.minutes, self._instructor
        return Taught.around(instructor.taught, instructor.time_zone, minutes, self._horizon)

    @cached_property
    def _days(self) -> list[int]:
        """The first cell of each local date; below 0 for dates that begin before the horizon."""
        since = seconds(self._horizon.starts_at)
        return [-((since - opens) // CELL_SECONDS) for opens in self._taught.days]

    @cached_property
    def _kept_day(self) -> int:
        """Where the grid has a start that keeps the run and the day's minutes."""
        found = day_bars(self._taught, self._rules.minutes, self._policy, self._horizon)
        return self.on_grid & ~barred(found, self._horizon)

    @cached_property
    def _beyond_load(self) -> frozenset[int]:
        return frozenset(bits(self.bookable & ~self._kept_day))

    def _packed(self) -> int:
        """The starts of Grid.PACKED in the days that lie in the horizon whole."""
        mask = 0
        whole = range(bisect_left(self._days, 0), bisect_right(self._days, self._horizon.cells) - 1)
        for position in whole:
            fitting = self._of_day(self.fitting, position)
            if fitting:
                free, taught = self._of_day(self._free, position), self._taught_on(position)
                found = packed_starts(free, fitting, taught, self._lesson)
                mask |= found << self._days[position]
        return mask

    def _of_day(self, mask: int, position: int) -> int:
        first, past = self._days[position], self._days[position + 1]
        return mask >> first & (1 << (past - first)) - 1

    def _day(self, position: int) -> Day:
        """A local day that lies in the horizon whole."""
        taught = self._taught_on(position)
        past = self._taught.days[position + 1] - self._second(position)
        within = sum(
            min(end, past) - max(first, 0) for first, end in taught if end > 0 and first < past
        )
        left = self._policy.day_minutes * 60 - within
        return Day(self._of_day(self._kept_day, position), past, taught, left)

    def _taught_on(self, position: int) -> tuple[Seconds, ...]:
        """What is taught on a local day and in its rows, in seconds after its first cell."""
        since = self._second(position)
        taught = self._taught.on_day(position, self._lesson.gap, self._lesson.length)
        return tuple((first - since, past - since) for first, past in taught)

    def _second(self, position: int) -> int:
        return self._days[position] * CELL_SECONDS + seconds(self._horizon.starts_at)
