"""The rules of teaching hours and slots once more, the slow way: every minute of UTC is asked what
its wall clock shows.

Imports nothing of the project. What it is given it reads by attribute names only.
"""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

MINUTE = timedelta(minutes=1)


@cache
def wall(instant: datetime, zone: str) -> tuple[date, int]:
    """The local date and minute of the day."""
    local = instant.astimezone(ZoneInfo(zone))
    return local.date(), local.hour * 60 + local.minute


def minutes_between(since: datetime, until: datetime) -> list[datetime]:
    """Each whole minute of UTC in [since, until)."""
    first = since.replace(second=0, microsecond=0)
    first += MINUTE if first < since else timedelta()
    return [first + k * MINUTE for k in range(max(0, -((first - until) // MINUTE)))]


def is_away(teaching, instant: datetime) -> bool:
    """Whether the instant lies on a day away."""
    return any(
        away.first_on <= wall(instant, away.time_zone)[0] <= away.last_on for away in teaching.away
    )


class Published:
    """What one instructor has published, laid out by zone and day, so that a minute asks only the
    windows of its own day.
    """

    def __init__(self, teaching):
        self.teaching = teaching
        self.zones = {}
        for kind, windows in (("weekly", teaching.weekly), ("extra", teaching.extra)):
            for position, window in enumerate(windows):
                day = window.weekday if kind == "weekly" else window.on
                days = self.zones.setdefault(window.time_zone, {})
                days.setdefault(day, []).append((window.opens, window.closes, (kind, position)))

    def windows_at(self, instant: datetime) -> set:
        """The windows, each with its date, that hold the instant: away counts."""
        found = set()
        for zone, days in self.zones.items():
            on, minute = wall(instant, zone)
            for day in (on.weekday(), on):
                for opens, closes, which in days.get(day, ()):
                    if opens <= minute < closes:
                        found.add((*which, on))
        return set() if found and is_away(self.teaching, instant) else found


def teachable(teaching, since: datetime, until: datetime) -> list[bool]:
    """For each 5-minute cell from `since` on (a multiple of 5 minutes): whether all five minutes
    are teachable.
    """
    published = Published(teaching)
    minutes = [bool(published.windows_at(instant)) for instant in minutes_between(since, until)]
    return [all(minutes[i : i + 5]) for i in range(0, len(minutes), 5)]


def window_runs(teaching, since: datetime, until: datetime) -> list[tuple[datetime, datetime]]:
    """The maximal runs of minutes that one window holds on one date, walked from three days before
    to three days after.
    """
    published, running, found = Published(teaching), {}, []
    for instant in minutes_between(since - timedelta(days=3), until + timedelta(days=3)):
        now_in = published.windows_at(instant)
        for key in list(running):
            if key not in now_in:
                found.append((running.pop(key), instant))
        for key in now_in:
            running.setdefault(key, instant)
    return sorted(run for run in found if run[0] < until and since < run[1])


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
        on_clock = offering.grid.value == "clock"  # then nobody asks where a window began
        for first, past in [] if on_clock else window_runs(instructor.teaching, since, end):
            while first < past:
                self.chained.add(first)
                first += step

    def first_refusal(self, start: datetime) -> str | None:
        """The code of the first rule that the start breaks, in the order that is promised to
        callers; None when it can be booked.
        """
        return next(self.broken(start), None)

    def broken(self, start: datetime) -> Iterator[str]:
        """The codes of all rules that the start breaks, in that order; one off the 5 minutes breaks
        that rule alone.
        """
        offering, student, policy = self.offering, self.student, self.policy
        if start.minute % 5 or start.second or start.microsecond:
            yield "off-grid"
            return
        meeting = minutes_between(start, start + self.length)
        student_on, _ = wall(start, student.time_zone)
        yield from self.untimely(start)
        if not all(at in self.teachable for at in meeting):
            yield "outside-hours"
        clock = offering.grid.value == "clock"
        if (
            wall(start, self.instructor.time_zone)[1] % offering.step_minutes
            if clock
            else start not in self.chained
        ):
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


def clashes(start: datetime, end: datetime, periods) -> bool:
    """Whether [start, end) shares an instant with one of the periods."""
    return any(start < period.ends_at and period.starts_at < end for period in periods)


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
