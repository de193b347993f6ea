"""Availability as a calendar file states it (RFC 7953), over the cells of a horizon, and the teaching hours that say the same.

A window means the wall clock of its zone, as teaching hours do: it closes when that clock shows its end, also on the dates on
which the clock changes inside it, where RFC 5545 section 3.8.5.3 would keep the elapsed length.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

from bookings.domain.hours import (
    DAY_MINUTES,
    WEEKDAYS,
    Away,
    DatedWindow,
    TeachingTime,
    WeeklyWindow,
    teachable,
)
from bookings.domain.timeline import CELL_MINUTES, EPOCH, Horizon, Period, stretches
from bookings.domain.wall import DAY, day_edges, joined, pieces, seconds, spans
from bookings.domain.zones import place, zone

LOOKS_AHEAD_DAYS = 366
"""Over how many days a proposal is compared with its file, from the day on which it is read."""
MOST_EXTRA = 60
"""How many extra hours a file may lead to: more are no exceptions but another way of repeating, which hours do not have."""
_WALL_EPOCH = EPOCH.replace(tzinfo=None)
_SECOND = timedelta(seconds=1)
_WEEK = 7 * DAY


class BusyType(StrEnum):
    """RFC 7953 section 3.2, the strongest first: where two of one priority overlap, the earlier here holds."""

    BUSY = "BUSY"
    UNAVAILABLE = "BUSY-UNAVAILABLE"
    TENTATIVE = "BUSY-TENTATIVE"


@dataclass(frozen=True, slots=True)
class Window:
    """AVAILABLE: from `opens` to `closes` on the wall clock of `time_zone` (without offset), once, or every week on `weekdays`.

    `weekdays` count from 0 = Monday. `until` is the last instant at which one may open; `skipped` are openings left out.
    """

    opens: datetime
    closes: datetime
    time_zone: str
    weekdays: tuple[int, ...] = ()
    until: datetime | None = None
    skipped: frozenset[datetime] = frozenset()


@dataclass(frozen=True, slots=True)
class Block:
    """VAVAILABILITY: unavailable in the way of `busy` from `since` to `until` (UTC, None without end), but for its windows.

    Priorities run from 0, the lowest, over 9 to 1, the highest (RFC 7953 section 4).
    """

    windows: tuple[Window, ...] = ()
    since: datetime | None = None
    until: datetime | None = None
    busy: BusyType = BusyType.UNAVAILABLE
    priority: int = 0

    @property
    def rank(self) -> int:
        """Rising with precedence."""
        return 10 - self.priority if self.priority else 0


def open_cells(window: Window, horizon: Horizon) -> int:
    """The cells that lie wholly in the window."""
    return _mask(_pieces(window, horizon), horizon)


def free_busy(
    blocks: Iterable[Block],
    horizon: Horizon,
    busy: Mapping[BusyType, Sequence[Period]] | None = None,
) -> dict[str, int]:
    """Every cell as FREE or one of BusyType, by the four steps of RFC 7953 section 5; `busy` is what events and VFREEBUSY take.

    All is free; each priority, the lowest first, makes its periods unavailable; its windows open them; events lie on top.
    """
    free, taken = horizon.full, dict.fromkeys(BusyType, 0)
    blocks = list(blocks)
    for rank in sorted({block.rank for block in blocks}):
        level = [block for block in blocks if block.rank == rank]
        covered = dict.fromkeys(BusyType, 0)
        for block in level:
            covered[block.busy] |= (
                horizon.mask_outward(whole) if (whole := _whole(block, horizon)) else 0
            )
        opened = 0
        for block in level:
            inside = horizon.mask_inward(whole) if (whole := _whole(block, horizon)) else 0
            for window in block.windows:
                opened |= open_cells(window, horizon) & inside
        free, taken = _laid(free, taken, covered)
        free |= opened
        taken = {kind: mask & ~opened for kind, mask in taken.items()}
    on_top = {kind: horizon.busy_mask(tuple((busy or {}).get(kind, ()))) for kind in BusyType}
    free, taken = _laid(free, taken, on_top)
    return {"FREE": free, **{kind.value: mask for kind, mask in taken.items()}}


def _laid(
    free: int, taken: Mapping[BusyType, int], covered: Mapping[BusyType, int]
) -> tuple[int, dict[BusyType, int]]:
    """`covered` over what was there; where its own kinds overlap, the strongest holds."""
    stronger, mine = 0, {}
    for kind in BusyType:
        mine[kind] = covered[kind] & ~stronger
        stronger |= covered[kind]
    return free & ~stronger, {kind: (taken[kind] & ~stronger) | mine[kind] for kind in BusyType}


def _whole(block: Block, horizon: Horizon) -> Period | None:
    since = horizon.starts_at if block.since is None else block.since
    until = horizon.ends_at if block.until is None else block.until
    return Period(since, until) if since < until else None


def _pieces(window: Window, horizon: Horizon) -> Iterator[tuple[int, int]]:
    """The window's stretches near the horizon, UTC seconds."""
    opens, closes = ((wall - _WALL_EPOCH) // _SECOND for wall in (window.opens, window.closes))
    length = closes - opens
    since, until = (
        seconds(horizon.starts_at) - 3 * DAY,
        seconds(horizon.ends_at) + 2 * DAY,
    )  # a weekly one lasts a day at most
    around = spans(window.time_zone, since, until)
    if not window.weekdays:
        yield from pieces(opens, closes, around)
        return
    skipped = {(wall - _WALL_EPOCH) // _SECOND for wall in window.skipped}
    last = None if window.until is None else seconds(window.until)
    first_weekday = window.opens.weekday()
    for weekday in window.weekdays:
        first = opens + (weekday - first_weekday) % 7 * DAY
        begin = first + max(0, (since + around[0].offset - first) // _WEEK) * _WEEK
        for start in range(begin, until + around[-1].offset, _WEEK):
            found = pieces(start, start + length, around)
            if start not in skipped and found and (last is None or found[0][0] <= last):
                yield from found


def _mask(found: Iterable[tuple[int, int]], horizon: Horizon) -> int:
    since, cell = seconds(horizon.starts_at), CELL_MINUTES * 60
    mask = 0
    for first, past in joined(sorted(found)):
        mask |= horizon.between(-((since - first) // cell), (past - since) // cell)
    return mask


@dataclass(frozen=True, slots=True)
class Proposal:
    """What an instructor's time would become: a week, extra hours and days away in one zone, and what none of them can say."""

    time_zone: str
    windows: tuple[tuple[int, int, int], ...]
    extra: tuple[tuple[date, int, int], ...]
    away: tuple[tuple[date, date], ...]
    unexpressed: tuple[str, ...]

    def teaching(self) -> TeachingTime:
        """The same for the pure core."""
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


def proposed(blocks: Sequence[Block], *, time_zone: str, now: datetime) -> Proposal:
    """The hours that say what the file says for a year from today on, in the zone of its week, or `time_zone` where it has none.

    The week is taken from the endless windows of the highest priority. Where a date then differs, it becomes extra hours or,
    without any free time, a day away; the rest is told in words.
    """
    weekly = _endless(blocks)
    zones = [window.time_zone for window in weekly]
    own = max(zones, key=lambda name: (zones.count(name), name)) if zones else time_zone
    windows = _week([window for window in weekly if window.time_zone == own])
    today = now.astimezone(zone(own)).date()
    first_day = (today - EPOCH.date()).days
    edges = day_edges(own, first_day, first_day + LOOKS_AHEAD_DAYS)
    horizon = Horizon.spanning(EPOCH + edges[0] * _SECOND, EPOCH + edges[-1] * _SECOND)
    free = free_busy(blocks, horizon)["FREE"]
    usual = teachable(Proposal(own, windows, (), (), ()).teaching(), horizon)
    days = [_between(horizon, edges[i], edges[i + 1]) for i in range(LOOKS_AHEAD_DAYS)]
    extra, away = list[tuple[date, int, int]](), list[tuple[date, date]]()
    open_run = False
    for number, day in enumerate(days):
        on = today + timedelta(days=number)
        if usual & day and not free & day:
            away.append((away.pop()[0] if open_run else on, on))
            open_run = True
            continue
        open_run = open_run and not (usual | free) & day
        extra += [(on, *wall) for wall in _walls(free & ~usual & day, horizon, own, on)]
    unexpressed = [
        f"Hours on another clock than {place(own)} every week: {_named(w)}."
        for w in weekly
        if w.time_zone != own
    ]
    if len(extra) > MOST_EXTRA:
        unexpressed.append(
            f"{len(extra)} dates with hours beside the weekly ones; the first {MOST_EXTRA} are kept."
        )
        extra = extra[:MOST_EXTRA]
    found = Proposal(own, windows, tuple(extra), tuple(away), ())
    left = free ^ teachable(found.teaching(), horizon)
    dates = [today + timedelta(days=number) for number, day in enumerate(days) if left & day]
    if dates:
        said = ", ".join(f"{on.day} {on:%B %Y}" for on in dates[:10]) + (
            f" and {len(dates) - 10} more" if len(dates) > 10 else ""
        )
        unexpressed.append(
            f"On these dates the file says something that hours cannot say, such as a part of a day off: {said}."
        )
    return Proposal(own, windows, tuple(extra), tuple(away), tuple(unexpressed))


def _endless(blocks: Sequence[Block]) -> list[Window]:
    rank = max((block.rank for block in blocks if block.until is None), default=0)
    level = [block for block in blocks if block.rank == rank and block.until is None]
    return [
        window
        for block in level
        for window in block.windows
        if window.weekdays and window.until is None
    ]


def _week(windows: Sequence[Window]) -> tuple[tuple[int, int, int], ...]:
    """(weekday, opens, closes) on whole five minutes, joined where they meet, cut at midnight."""
    found: dict[int, list[tuple[int, int]]] = {}
    for window in windows:
        opens = (
            -(-(window.opens.hour * 3600 + window.opens.minute * 60 + window.opens.second) // 300)
            * CELL_MINUTES
        )
        length = (window.closes - window.opens) // _SECOND
        closes = (
            (window.opens.hour * 3600 + window.opens.minute * 60 + window.opens.second + length)
            // 300
            * CELL_MINUTES
        )
        for weekday in window.weekdays:
            for day in range(-(-closes // DAY_MINUTES)):
                part = (
                    max(opens - day * DAY_MINUTES, 0),
                    min(closes - day * DAY_MINUTES, DAY_MINUTES),
                )
                if part[0] < part[1]:
                    found.setdefault((weekday + day) % 7, []).append(part)
    return tuple(
        (weekday, *part) for weekday in sorted(found) for part in joined(sorted(found[weekday]))
    )


def _between(horizon: Horizon, since: int, until: int) -> int:
    start, cell = seconds(horizon.starts_at), CELL_MINUTES * 60
    return horizon.between((since - start) // cell, (until - start) // cell)


def _walls(mask: int, horizon: Horizon, time_zone: str, on: date) -> Iterator[tuple[int, int]]:
    """The runs of cells of one date as minutes of that day on the zone's wall clock."""
    for first, past in stretches(mask):
        start, end = (horizon.instant(i).astimezone(zone(time_zone)) for i in (first, past))
        opens = start.hour * 60 + start.minute
        closes = end.hour * 60 + end.minute if end.date() == on else DAY_MINUTES
        if opens < closes:
            yield opens, closes


def _named(window: Window) -> str:
    days = ", ".join(WEEKDAYS[weekday] for weekday in window.weekdays)
    return f"{days} {window.opens:%H:%M}-{window.closes:%H:%M} {place(window.time_zone)}"


def in_utc_from_wall(wall: datetime, time_zone: str) -> datetime:
    """The instant that a calendar file means by a wall time: the first of two, and in a gap by the offset before it.

    RFC 5545 section 3.3.5.
    """
    return wall.replace(tzinfo=zone(time_zone)).astimezone(UTC)
