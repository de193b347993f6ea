"""Availability as a calendar file states it (RFC 7953), over the cells of a horizon.

A window uses the wall clock of its zone, as teaching hours do: it closes when that clock shows its
end, even if the clock changes inside it. RFC 5545 section 3.8.5.3 would keep the elapsed length.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from bookings.domain.timeline import CELL_MINUTES, EPOCH, Horizon, Period
from bookings.domain.wall import DAY, joined, pieces, seconds, spans
from bookings.domain.zones import zone

_WALL_EPOCH = EPOCH.replace(tzinfo=None)
_SECOND = timedelta(seconds=1)
_WEEK = 7 * DAY


class BusyType(StrEnum):
    """RFC 7953 section 3.2, the strongest first: where two of one priority overlap, the stronger
    wins.
    """

    BUSY = "BUSY"
    UNAVAILABLE = "BUSY-UNAVAILABLE"
    TENTATIVE = "BUSY-TENTATIVE"


@dataclass(frozen=True, slots=True)
class Window:
    """AVAILABLE: from `opens` to `closes` on the wall clock of `time_zone` (without offset), once,
    or weekly on `weekdays`.

    `weekdays` count from 0 = Monday. `until` is the last instant at which the window may open;
    `skipped` are openings left out.
    """

    opens: datetime
    closes: datetime
    time_zone: str
    weekdays: tuple[int, ...] = ()
    until: datetime | None = None
    skipped: frozenset[datetime] = frozenset()


@dataclass(frozen=True, slots=True)
class Block:
    """VAVAILABILITY: unavailable from `since` to `until` (UTC, None = without end), except for its
    windows.

    `busy` is the kind of unavailable. Priorities run from 1, the highest, to 9, and 0 is the lowest
    (RFC 7953 section 4).
    """

    windows: tuple[Window, ...] = ()
    since: datetime | None = None
    until: datetime | None = None
    busy: BusyType = BusyType.UNAVAILABLE
    priority: int = 0

    @property
    def rank(self) -> int:
        """A number that rises with precedence."""
        return 10 - self.priority if self.priority else 0


def open_cells(window: Window, horizon: Horizon) -> int:
    """The cells that lie wholly in the window."""
    return _mask(_pieces(window, horizon), horizon)


def free_busy(
    blocks: Iterable[Block],
    horizon: Horizon,
    busy: Mapping[BusyType, Sequence[Period]] | None = None,
) -> dict[str, int]:
    """The cells of each kind, "FREE" or a BusyType, by the four steps of RFC 7953 section 5.

    All is free; each priority, the lowest first, makes its periods unavailable; its windows open
    them again; `busy`, the times of events and VFREEBUSY, lies on top.
    """
    blocks = list(blocks)
    free = horizon.full
    taken = dict.fromkeys(BusyType, 0)
    for rank in sorted({block.rank for block in blocks}):
        level = [block for block in blocks if block.rank == rank]
        covered = dict.fromkeys(BusyType, 0)
        opened = 0
        for block in level:
            covered[block.busy] |= _covered(block, horizon)
            opened |= _opened(block, horizon)
        free, taken = _laid(free, taken, covered)
        free |= opened
        taken = {kind: mask & ~opened for kind, mask in taken.items()}
    on_top = {kind: horizon.busy_mask(tuple((busy or {}).get(kind, ()))) for kind in BusyType}
    free, taken = _laid(free, taken, on_top)
    return {"FREE": free, **{kind.value: mask for kind, mask in taken.items()}}


def _covered(block: Block, horizon: Horizon) -> int:
    """The cells that the block makes unavailable."""
    whole = _whole(block, horizon)
    return 0 if whole is None else horizon.mask_outward(whole)


def _opened(block: Block, horizon: Horizon) -> int:
    """The cells that the block's windows open inside it."""
    whole = _whole(block, horizon)
    if whole is None:
        return 0
    mask = 0
    for window in block.windows:
        mask |= open_cells(window, horizon)
    return mask & horizon.mask_inward(whole)


def _laid(
    free: int, taken: Mapping[BusyType, int], covered: Mapping[BusyType, int]
) -> tuple[int, dict[BusyType, int]]:
    """`covered` laid over what is there. Where kinds of `covered` overlap, the strongest wins."""
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
    """The window's stretches near the horizon, in UTC seconds."""
    opens, closes = _wall_second(window.opens), _wall_second(window.closes)
    length = closes - opens
    # A weekly window lasts a day at most.
    since, until = seconds(horizon.starts_at) - 3 * DAY, seconds(horizon.ends_at) + 2 * DAY
    around = spans(window.time_zone, since, until)
    if not window.weekdays:
        yield from pieces(opens, closes, around)
        return
    skipped = {_wall_second(wall) for wall in window.skipped}
    last = None if window.until is None else seconds(window.until)
    first_weekday = window.opens.weekday()
    for weekday in window.weekdays:
        first = opens + (weekday - first_weekday) % 7 * DAY
        begin = first + max(0, (since + around[0].offset - first) // _WEEK) * _WEEK
        for start in range(begin, until + around[-1].offset, _WEEK):
            found = pieces(start, start + length, around)
            if start not in skipped and found and (last is None or found[0][0] <= last):
                yield from found


def _wall_second(wall: datetime) -> int:
    """Seconds from 1970-01-01T00:00 on the same wall clock."""
    return (wall - _WALL_EPOCH) // _SECOND


def _mask(found: Iterable[tuple[int, int]], horizon: Horizon) -> int:
    since, cell = seconds(horizon.starts_at), CELL_MINUTES * 60
    mask = 0
    for first, past in joined(sorted(found)):
        mask |= horizon.between(-((since - first) // cell), (past - since) // cell)
    return mask


def in_utc_from_wall(wall: datetime, time_zone: str) -> datetime:
    """The instant (UTC) of a wall time in a calendar file (RFC 5545 section 3.3.5).

    The first of two in a fold; in a gap, the instant by the offset before it.
    """
    return wall.replace(tzinfo=zone(time_zone)).astimezone(UTC)
