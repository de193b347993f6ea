"""The teaching hours that say what the blocks of a calendar file say."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from bookings.domain.availability import Block, Window, free_busy
from bookings.domain.hours import (
    DAY_MINUTES,
    WEEKDAYS,
    Away,
    DatedWindow,
    TeachingTime,
    WeeklyWindow,
    teachable,
)
from bookings.domain.timeline import CELL_MINUTES, EPOCH, Horizon, stretches
from bookings.domain.wall import SECOND, day_edges, joined, seconds
from bookings.domain.zones import place, zone

LOOKS_AHEAD_DAYS = 366
"""For how many days a proposal is compared with its file, from the day on which the file is read.
"""
MOST_EXTRA = 60
"""The most extra hours that a file may lead to. A file with more repeats in a way that hours cannot
express.
"""
_CELL_SECONDS = CELL_MINUTES * 60
_MOST_NAMED = 10
Week = tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, slots=True)
class Proposal:
    """Hours that a file would give an instructor: a week, extra hours and days away in one zone.

    `unexpressed` are sentences about what the file says and hours cannot.
    """

    time_zone: str
    windows: Week
    extra: tuple[tuple[date, int, int], ...]
    away: tuple[tuple[date, date], ...]
    unexpressed: tuple[str, ...]

    def teaching(self) -> TeachingTime:
        """The same hours for the pure core."""
        return TeachingTime(
            tuple(
                WeeklyWindow(weekday, opens, closes, self.time_zone)
                for weekday, opens, closes in self.windows
            ),
            tuple(
                DatedWindow(on, opens, closes, self.time_zone) for on, opens, closes in self.extra
            ),
            tuple(Away(first_on, last_on, self.time_zone) for first_on, last_on in self.away),
        )


def proposal(blocks: Sequence[Block], *, time_zone: str, now: datetime) -> Proposal:
    """The hours that say what the file says, for a year from today on.

    Their zone is that of the file's week, or `time_zone` without one. The week is taken from the
    endless windows of the highest priority. A date that differs becomes extra hours or, without any
    free time, a day away; the rest is told in words.
    """
    weekly = _endless(blocks)
    own = _zone_of_week(weekly, time_zone)
    windows = _week([window for window in weekly if window.time_zone == own])
    unexpressed = [
        f"Hours on another clock than {place(own)} every week: {_named(window)}."
        for window in weekly
        if window.time_zone != own
    ]
    year = _Year(own, now.astimezone(zone(own)).date())
    free = free_busy(blocks, year.horizon)["FREE"]
    usual = teachable(Proposal(own, windows, (), (), ()).teaching(), year.horizon)
    away = _away(year, usual, free)
    extra = _extra(year, usual, free)
    if len(extra) > MOST_EXTRA:
        unexpressed.append(
            f"{len(extra)} dates with hours beside the weekly ones; the first {MOST_EXTRA} are "
            "kept."
        )
        extra = extra[:MOST_EXTRA]
    found = Proposal(own, windows, tuple(extra), tuple(away), ())
    dates = year.dates_of(free ^ teachable(found.teaching(), year.horizon))
    if dates:
        unexpressed.append(
            "On these dates the file says something that hours cannot say, such as a part of a "
            f"day off: {_listed(dates)}."
        )
    return replace(found, unexpressed=tuple(unexpressed))


class _Year:
    """The dates from `today` on that a proposal is compared over, in one zone, and their cells."""

    def __init__(self, time_zone: str, today: date) -> None:
        first_day = (today - EPOCH.date()).days
        edges = day_edges(time_zone, first_day, first_day + LOOKS_AHEAD_DAYS)
        self.time_zone = time_zone
        self.horizon = Horizon.spanning(EPOCH + edges[0] * SECOND, EPOCH + edges[-1] * SECOND)
        self.days = [
            (today + timedelta(days=number), self._between(edges[number], edges[number + 1]))
            for number in range(LOOKS_AHEAD_DAYS)
        ]
        """Each date with the mask of its cells."""

    def _between(self, since: int, until: int) -> int:
        start = seconds(self.horizon.starts_at)
        return self.horizon.between(
            (since - start) // _CELL_SECONDS, (until - start) // _CELL_SECONDS
        )

    def dates_of(self, mask: int) -> list[date]:
        """The dates that hold a cell of the mask."""
        return [on for on, cells in self.days if mask & cells]


def _away(year: _Year, usual: int, free: int) -> list[tuple[date, date]]:
    """First and last dates of the days away: dates with usual hours and no free time.

    Dates without either, between two of them, belong to the same days away.
    """
    found = list[tuple[date, date]]()
    joins = False
    for on, cells in year.days:
        if usual & cells and not free & cells:
            first_on = found.pop()[0] if joins else on
            found.append((first_on, on))
            joins = True
        elif (usual | free) & cells:
            joins = False
    return found


def _extra(year: _Year, usual: int, free: int) -> list[tuple[date, int, int]]:
    """(date, opens, closes) of free time outside the usual hours."""
    return [
        (on, opens, closes)
        for on, cells in year.days
        for opens, closes in _walls(free & ~usual & cells, year, on)
    ]


def _zone_of_week(weekly: Sequence[Window], otherwise: str) -> str:
    """The zone of most of the weekly windows; of several such, the last by name."""
    zones = [window.time_zone for window in weekly]
    return max(zones, key=lambda name: (zones.count(name), name), default=otherwise)


def _endless(blocks: Sequence[Block]) -> list[Window]:
    rank = max((block.rank for block in blocks if block.until is None), default=0)
    level = [block for block in blocks if block.rank == rank and block.until is None]
    return [
        window
        for block in level
        for window in block.windows
        if window.weekdays and window.until is None
    ]


def _week(windows: Sequence[Window]) -> Week:
    """(weekday, opens, closes) on whole five minutes, joined where windows meet, cut at
    midnight.
    """
    found: dict[int, list[tuple[int, int]]] = {}
    for window in windows:
        opens, closes = _rounded_inward(window)
        for weekday in window.weekdays:
            for day in range(-(-closes // DAY_MINUTES)):
                since = max(opens - day * DAY_MINUTES, 0)
                until = min(closes - day * DAY_MINUTES, DAY_MINUTES)
                if since < until:
                    found.setdefault((weekday + day) % 7, []).append((since, until))
    return tuple(
        (weekday, opens, closes)
        for weekday in sorted(found)
        for opens, closes in joined(sorted(found[weekday]))
    )


def _rounded_inward(window: Window) -> tuple[int, int]:
    """Minutes from the midnight before the window opens, on whole five minutes."""
    midnight = window.opens.replace(hour=0, minute=0, second=0, microsecond=0)
    opens, closes = ((wall - midnight) // SECOND for wall in (window.opens, window.closes))
    return -(-opens // _CELL_SECONDS) * CELL_MINUTES, closes // _CELL_SECONDS * CELL_MINUTES


def _walls(mask: int, year: _Year, on: date) -> Iterator[tuple[int, int]]:
    """The runs of cells of one date, as minutes of that day on the zone's wall clock."""
    for first, past in stretches(mask):
        start = year.horizon.instant(first).astimezone(zone(year.time_zone))
        end = year.horizon.instant(past).astimezone(zone(year.time_zone))
        opens = start.hour * 60 + start.minute
        closes = end.hour * 60 + end.minute if end.date() == on else DAY_MINUTES
        if opens < closes:
            yield opens, closes


def _named(window: Window) -> str:
    days = ", ".join(WEEKDAYS[weekday] for weekday in window.weekdays)
    return f"{days} {window.opens:%H:%M}-{window.closes:%H:%M} {place(window.time_zone)}"


def _listed(dates: Sequence[date]) -> str:
    named = ", ".join(f"{on.day} {on:%B %Y}" for on in dates[:_MOST_NAMED])
    left = len(dates) - _MOST_NAMED
    return f"{named} and {left} more" if left > 0 else named
