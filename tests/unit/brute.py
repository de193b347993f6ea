"""The rules of teaching hours and slots once more, the slow way: every minute of UTC is asked what
its wall clock shows.

Imports nothing of the project. What it is given it reads by attribute names only.
"""

from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from tests.unit.brute_hours import (
    MINUTE,
    Published,
    clashes,
    is_away,
    minutes_between,
    teachable,
    wall,
    window_runs,
)
from tests.unit.brute_packed import Packed

__all__ = [
    "MINUTE",
    "Rules",
    "clock_changes",
    "day_window_holds",
    "is_away",
    "minutes_between",
    "teachable",
    "wall",
    "window_runs",
]


class Rules:
    """One instructor and one student, judged minute by minute over [since, until)."""

    def __init__(self, offering, instructor, student, policy, now, since, until):
        self.offering, self.instructor, self.student, self.policy, self.now = (
            offering,
            instructor,
            student,
            policy,
            now,
        )
        self.length = timedelta(minutes=offering.minutes)
        self.held = timedelta(minutes=offering.minutes + offering.changeover_minutes)
        end = until + self.held
        published = Published(instructor.teaching)
        self.teachable = {at for at in minutes_between(since, end) if published.windows_at(at)}
        self.taught = {
            at
            for period in instructor.taught
            for at in minutes_between(period.starts_at, period.ends_at)
        }
        self.taught_on = Counter(wall(at, instructor.time_zone)[0] for at in self.taught)
        step = timedelta(minutes=offering.step_minutes)
        self.chained = set()
        # Only one of the grids asks where a window began.
        by_window = offering.grid.value == "window"
        for first, past in window_runs(instructor.teaching, since, end) if by_window else []:
            while first < past:
                self.chained.add(first)
                first += step
        if offering.grid.value == "packed":
            self.packed = Packed(offering, instructor, policy, since, end)

    def first_refusal(self, start: datetime) -> str | None:
        """The code of the first rule that the start breaks, in the order that is promised to
        callers; None when it can be booked.
        """
        return next(self.broken(start), None)

    def broken(self, start: datetime) -> Iterator[str]:
        """The codes of all rules that the start breaks, in that order; one off the 5 minutes breaks
        that rule alone.
        """
        student, policy = self.student, self.policy
        if start.minute % 5 or start.second or start.microsecond:
            yield "off-grid"
            return
        meeting = minutes_between(start, start + self.length)
        student_on, _ = wall(start, student.time_zone)
        yield from self.untimely(start)
        if not all(at in self.teachable for at in meeting):
            yield "outside-hours"
        if self.off_grid(start):
            yield "off-grid"
        held = clashes(start, start + self.held, self.instructor.meetings)
        if held or clashes(start, start + self.length, self.instructor.busy):
            yield "taken"
        if not held and start not in self.instructor.allowed:
            yield from self.overloaded(start, meeting)
        if clashes(start, start + self.length, [*student.meetings, *student.busy]):
            yield "own-clash"
        awake = all(
            policy.minor_opens <= wall(at, student.time_zone)[1] < policy.minor_closes
            for at in meeting
        )
        if student.adult_on and student_on < student.adult_on and not awake:
            yield "minor-hours"

    def off_grid(self, start: datetime) -> bool:
        """Whether the grid has no such start; a packed one says nothing where no lesson fits."""
        if self.offering.grid.value == "clock":
            return bool(wall(start, self.instructor.time_zone)[1] % self.offering.step_minutes)
        if self.offering.grid.value == "window":
            return start not in self.chained
        return self.packed.fits(start) and start not in self.packed.starts

    def untimely(self, start: datetime) -> Iterator[str]:
        """The rules of lead time and horizon that the start breaks."""
        if start < self.now:
            yield "past"
        elif start < self.now + self.policy.lead_time_minutes * MINUTE:
            yield "too-soon"
        if start > self.now + timedelta(hours=24 * self.policy.horizon_days):
            yield "too-far"

    def overloaded(self, start: datetime, meeting: list[datetime]) -> Iterator[str]:
        """The load rules that one more meeting would break, counted minute by minute on the
        instructor's clock.
        """
        policy, zone = self.policy, self.instructor.time_zone
        if (
            self.in_a_row(meeting[0], -MINUTE) + len(meeting) + self.in_a_row(meeting[-1], MINUTE)
            > policy.run_minutes
        ):
            yield "load-run"
        new_on = Counter(wall(at, zone)[0] for at in meeting)
        if any(self.taught_on[on] + new > policy.day_minutes for on, new in new_on.items()):
            yield "load-day"
        before, new = by_week(self.taught_on), by_week(new_on)
        if any(before[week] + minutes > policy.week_minutes for week, minutes in new.items()):
            yield "load-week"
        on, rest, others = (
            wall(start, zone)[0],
            policy.night_rest_minutes * MINUTE,
            self.instructor.taught,
        )
        its_day = [other for other in others if wall(other.starts_at, zone)[0] == on]
        earlier = [other.ends_at for other in others if wall(other.starts_at, zone)[0] < on]
        later = [other.starts_at for other in others if wall(other.starts_at, zone)[0] > on]
        first, last = (
            all(start < other.starts_at for other in its_day),
            all(start + self.length > other.ends_at for other in its_day),
        )
        if (first and earlier and start - max(earlier) < rest) or (
            last and later and min(later) - (start + self.length) < rest
        ):
            yield "load-rest"

    def in_a_row(self, at: datetime, step: timedelta) -> int:
        """The taught minutes from there on, one way, until as many idle ones as make a rest."""
        found = idle = 0
        while idle < max(self.policy.run_gap_minutes, 1):
            at += step
            found, idle = (found + 1, 0) if at in self.taught else (found, idle + 1)
        return found


def by_week(minutes_on: Counter) -> Counter:
    """Minutes for each Monday-to-Sunday week from minutes for each date."""
    found = Counter()
    for on, minutes in minutes_on.items():
        found[on - timedelta(days=on.weekday())] += minutes
    return found


def day_window_holds(start: datetime, minutes: int, zone: str, earliest: int, latest: int) -> bool:
    """Whether every minute of the meeting lies in [earliest, latest) of its own local day."""
    return all(
        earliest <= wall(at, zone)[1] < latest
        for at in minutes_between(start, start + minutes * MINUTE)
    )


def clock_changes(
    zone: str, since: datetime, until: datetime
) -> list[tuple[datetime, timedelta, timedelta]]:
    """(instant, offset before, offset from then on) of each change of the zone's offset, by probing
    twelve-hourly and halving.
    """
    clock, found, low = ZoneInfo(zone), [], since
    while low < until:
        high = low + timedelta(hours=12)
        before, after = low.astimezone(clock).utcoffset(), high.astimezone(clock).utcoffset()
        if before != after:
            first, last = low, high
            while last - first > timedelta(seconds=1):
                middle = first + ((last - first) / 2 // timedelta(seconds=1)) * timedelta(seconds=1)
                first, last = (
                    (middle, last)
                    if middle.astimezone(clock).utcoffset() == before
                    else (first, middle)
                )
            found.append((last, before, after))
        low = high
    return found
