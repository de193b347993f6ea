"""Teaching hours the slow way: every minute of UTC is asked what its wall clock shows.

Imports nothing of the project. What it is given it reads by attribute names only.
"""

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
    """Whether the instant lies on a day away or in hours away."""
    for away in teaching.away:
        on, minute = wall(instant, away.time_zone)
        begins = away.from_minute if on == away.first_on else 0
        ends = away.to_minute if on == away.last_on else 24 * 60
        if away.first_on <= on <= away.last_on and begins <= minute < ends:
            return True
    return False


class Published:
    """What one instructor has published, laid out by zone and day, so that a minute asks only the
    windows of its own day.
    """

    def __init__(self, teaching):
        self.teaching = teaching
        self.zones, self._dated = {}, {}
        for kind, windows in (("weekly", teaching.weekly), ("extra", teaching.extra)):
            for position, window in enumerate(windows):
                day = window.weekday if kind == "weekly" else window.on
                days = self.zones.setdefault(window.time_zone, {})
                days.setdefault(day, []).append((window.opens, window.closes, (kind, position)))

    def windows_at(self, instant: datetime) -> set:
        """The windows, each with its date, that hold the instant: away counts."""
        found = set()
        for zone in self.zones:
            on, minute = wall(instant, zone)
            for opens, closes, which in self._windows_of(zone, on):
                if opens <= minute < closes:
                    found.add(which)
        return set() if found and is_away(self.teaching, instant) else found

    def _windows_of(self, zone: str, on: date) -> list:
        """The windows of one date, put together when its first minute is asked."""
        windows = self._dated.get((zone, on))
        if windows is None:
            days = self.zones[zone]
            windows = self._dated[zone, on] = [
                (opens, closes, (*which, on))
                for day in (on.weekday(), on)
                for opens, closes, which in days.get(day, ())
            ]
        return windows


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


def clashes(start: datetime, end: datetime, periods) -> bool:
    """Whether [start, end) shares an instant with one of the periods."""
    return any(start < period.ends_at and period.starts_at < end for period in periods)
