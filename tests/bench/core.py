"""The solver alone: one instructor's free starts as masks, beside the same work on the interval
library portion and minute by minute.
"""

import random
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

import portion

from bookings.domain import grid, wall
from bookings.domain.grid import starts_on_grid
from bookings.domain.hours import TeachingTime, WeeklyWindow, teachable
from bookings.domain.slots import OfferingRules
from bookings.domain.timeline import CELL, Horizon, Period, bits, periods, runs
from bookings.domain.vocabulary import Grid
from tests.bench.timing import Paired, median_of, paired

NOW = datetime(2027, 3, 1, 9, tzinfo=UTC)
DAYS, BUSY = 60, 180
LESSON = OfferingRules(25, 5, Grid.CLOCK, 30)
MORNING, AFTERNOON = (9 * 60, 12 * 60), (15 * 60 + 30, 20 * 60 + 30)
ZONES = ("Europe/Dublin", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe")


def week_in(time_zone: str) -> TeachingTime:
    """Ten windows: every weekday 09:00-12:00 and 15:30-20:30."""
    return TeachingTime(
        tuple(
            WeeklyWindow(weekday, *window, time_zone)
            for weekday in range(5)
            for window in (MORNING, AFTERNOON)
        )
    )


class OneInstructor:
    """Ilse's 60 days: ten windows a week across a clock change, 120 meetings with their changeover
    and 60 busy times, all in their hours.
    """

    def __init__(self) -> None:
        self.zone, self.teaching = ZONES[0], week_in(ZONES[0])
        self.horizon = Horizon.spanning(NOW, NOW + timedelta(days=DAYS))
        self.hours = teachable(self.teaching, self.horizon)
        hours = periods(self.hours, self.horizon)
        starts = [
            p.starts_at + timedelta(minutes=30 * k) for p in hours for k in range(p.minutes // 30)
        ]
        taken = random.Random(7).sample(starts, BUSY)
        self.meetings = tuple(
            Period(at, at + timedelta(minutes=30)) for at in taken[: BUSY * 2 // 3]
        )
        self.busy = tuple(Period(at, at + timedelta(minutes=25)) for at in taken[BUSY * 2 // 3 :])
        self.grid = starts_on_grid(
            LESSON.grid, LESSON.step_minutes, self.zone, self.teaching, self.horizon
        )
        self.busy_mask, self.meetings_mask = (
            self.horizon.busy_mask(self.busy),
            self.horizon.busy_mask(self.meetings),
        )
        self.hours_in_seconds = [
            (wall.seconds(p.starts_at), wall.seconds(p.ends_at)) for p in hours
        ]

    def from_masks(self) -> int:
        """All masks known: the cells in which a lesson may start."""
        unheld = self.horizon.full & ~self.meetings_mask
        return (
            runs(self.hours & ~self.busy_mask, LESSON.meeting_cells)
            & runs(unheld, LESSON.held_cells)
            & self.grid
        )

    def from_periods(self) -> list[datetime]:
        """The mask of the hours and of the grid kept, everything else from its periods: the start
        instants.
        """
        return self._instants(self.hours, self.grid)

    def cold(self) -> list[datetime]:
        """From the published hours, with nothing kept but the zone's file: the start instants."""
        grid._clock_grid.cache_clear()
        wall._spans.cache_clear()
        hours = teachable(self.teaching, self.horizon)
        return self._instants(
            hours,
            starts_on_grid(
                LESSON.grid, LESSON.step_minutes, self.zone, self.teaching, self.horizon
            ),
        )

    def _instants(self, hours: int, on_grid: int) -> list[datetime]:
        horizon = self.horizon
        fits = runs(hours & ~horizon.busy_mask(self.busy), LESSON.meeting_cells)
        unheld = runs(horizon.full & ~horizon.busy_mask(self.meetings), LESSON.held_cells)
        since = horizon.starts_at
        return [since + i * CELL for i in bits(fits & unheld & on_grid)]

    def by_portion(self) -> list[datetime]:
        """The same from the hours as intervals, on whole seconds, which portion handles about half
        again as fast as datetimes.
        """
        whole = portion.closedopen(
            wall.seconds(self.horizon.starts_at), wall.seconds(self.horizon.ends_at)
        )
        hours = portion.Interval(*(portion.closedopen(*window) for window in self.hours_in_seconds))
        fits = _starts(hours - _union(self.busy), LESSON.minutes * 60)
        unheld = _starts(whole - _union(self.meetings), LESSON.held_minutes * 60)
        step = LESSON.step_minutes * 60
        found = fits & unheld
        # Dublin's offset is whole hours, so its half hours are those of UTC: the cheapest grid.
        return [
            datetime.fromtimestamp(s, UTC)
            for one in found
            for s in range(-(-one.lower // step) * step, one.upper + 1, step)
        ]

    def by_minutes(self) -> list[datetime]:
        """The same with a flag for every minute, and every minute of each start on the grid looked
        at.
        """
        since = wall.seconds(self.horizon.starts_at)
        length = self.horizon.cells * 5
        taught, held = bytearray(length), bytearray(length + LESSON.held_minutes)
        for first, past in self.hours_in_seconds:
            for minute in range((first - since) // 60, (past - since) // 60):
                taught[minute] = 1
        for periods_taken, flags, value in ((self.busy, taught, 0), (self.meetings, held, 1)):
            for period in periods_taken:
                for minute in range(
                    (wall.seconds(period.starts_at) - since) // 60,
                    (wall.seconds(period.ends_at) - since) // 60,
                ):
                    flags[minute] = value
        step = LESSON.step_minutes
        return [
            self.horizon.starts_at + timedelta(minutes=start)
            for start in range(-(since // 60) % step, length - LESSON.minutes + 1, step)
            if all(taught[minute] for minute in range(start, start + LESSON.minutes))
            and not any(held[minute] for minute in range(start, start + LESSON.held_minutes))
        ]


def _union(taken: Iterable[Period]) -> portion.Interval:
    return portion.Interval(
        *(portion.closedopen(wall.seconds(p.starts_at), wall.seconds(p.ends_at)) for p in taken)
    )


def _starts(free: portion.Interval, length: int) -> portion.Interval:
    return portion.Interval(
        *(
            portion.closed(one.lower, one.upper - length)
            for one in free
            if one.upper - one.lower >= length
        )
    )


def figures() -> tuple[dict[str, float], dict[str, str]]:
    """The figures of one instructor, and what is compared in each."""
    one = OneInstructor()
    starts = one.cold()
    known = [one.horizon.instant(i) for i in bits(one.from_masks())]
    if not starts == known == one.from_periods() == one.by_portion() == one.by_minutes():
        raise AssertionError("the four ways do not find the same starts")
    against_portion: Paired = paired(one.from_periods, one.by_portion, runs=21, times=10)
    against_minutes: Paired = paired(one.from_periods, one.by_minutes, runs=21, times=10)
    wholly: Paired = paired(one.cold, one.by_portion, runs=21, times=10)
    return {
        "slot_core_masks_us": median_of(one.from_masks, runs=21, times=1000) * 1e6,
        "slot_core_cold_ms": wholly.first * 1e3,
        "slot_core_vs_portion": against_portion.ratio,
        "slot_core_cold_vs_portion": wholly.ratio,
        "slot_core_vs_minutes": against_minutes.ratio,
    }, _compared(len(starts), against_portion, against_minutes)


def _compared(starts: int, against_portion: Paired, against_minutes: Paired) -> dict[str, str]:
    """What is compared in each figure, with the times behind the ratios."""
    same = (
        f"one instructor, {DAYS} days, 10 windows a week, {BUSY} taken periods, 25 minutes and 5 "
        "of changeover, 30-minute clock grid"
    )
    return {
        "slot_core_masks_us": (
            f"{same}: the mask of its starts from the masks of hours, busy times, meetings and grid"
        ),
        "slot_core_cold_ms": (
            f"{same}: from weekly hours and period tuples to {starts} start instants, "
            "caches of zones' spans and of the grid emptied"
        ),
        "slot_core_vs_portion": (
            f"the same work: expanded hours and grid given to both, then from {BUSY} period "
            "tuples to the start instants; portion takes "
            f"{against_portion.second * 1e3:.1f} ms on whole seconds, the masks "
            f"{against_portion.first * 1e3:.2f} ms; results identical"
        ),
        "slot_core_cold_vs_portion": (
            "stricter: the masks start cold, portion still gets its hours expanded and its grid "
            "for nothing"
        ),
        "slot_core_vs_minutes": (
            "as slot_core_vs_portion, with one flag a minute and every minute of a start looked "
            "at "
            f"({against_minutes.second * 1e3:.1f} ms); results identical"
        ),
    }
