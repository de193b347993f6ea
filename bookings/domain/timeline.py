"""The algebra of time: a stretch of 5-minute cells in one integer, bit i = cell i.

Union, intersection and difference of sets of times are `|`, `&` and `& ~`. Where a meeting of n
cells may start takes log2(n) shifts and ANDs. Free time is rounded inward and busy time outward, so
a rounded answer never promises too much.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple

from bookings.domain.errors import Refused

CELL_MINUTES = 5
CELL = timedelta(minutes=CELL_MINUTES)
_CELL_SECONDS = CELL_MINUTES * 60
_DAY_CELLS = 24 * 60 // CELL_MINUTES
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
FIRST_ON, LAST_ON = date(2000, 1, 1), date(2199, 12, 31)
"""The dates that people may type. Arithmetic on them stays inside Python's calendar."""


def in_utc(instant: datetime) -> datetime:
    """The same instant in UTC. Refused("naive-time") without an offset, Refused("invalid") outside
    the calendar.

    Two datetimes of one zone compare by their wall clocks (PEP 495), so every instant enters the
    domain through here.
    """
    if instant.tzinfo is UTC:
        return instant  # as rows of the database are, thousands at a time
    if instant.utcoffset() is None:
        raise Refused("naive-time", "Add an offset to the time, such as 2027-03-01T09:00:00Z.")
    try:
        return instant.astimezone(UTC)
    except OverflowError:
        raise Refused("invalid", "Choose a time between the years 2 and 9998.") from None


def rfc3339(instant: datetime) -> str:
    """The instant in UTC as RFC 3339 writes it, with Z. A web address would turn the "+" of an
    offset into a space.
    """
    return in_utc(instant).isoformat().replace("+00:00", "Z")


def in_calendar(instant: datetime) -> datetime:
    """`in_utc` for an instant that somebody typed.

    Refused("invalid") also before FIRST_ON or after LAST_ON.
    """
    moment = in_utc(instant)
    if not FIRST_ON <= moment.date() <= LAST_ON:
        raise Refused(
            "invalid",
            f"Choose a time between the years {FIRST_ON.year} and {LAST_ON.year}.",
            field="starts_at",
        )
    return moment


class _Ends(NamedTuple):
    starts_at: datetime
    ends_at: datetime


class Period(_Ends):
    """Half-open [starts_at, ends_at), kept in UTC whatever offset was given.

    Refused("naive-time") without an offset, Refused("end-before-start") when it is empty or runs
    backwards.
    """

    __slots__ = ()

    def __new__(cls, starts_at: datetime, ends_at: datetime) -> "Period":
        if starts_at.tzinfo is not UTC or ends_at.tzinfo is not UTC:
            starts_at, ends_at = in_utc(starts_at), in_utc(ends_at)
        if ends_at <= starts_at:
            raise Refused("end-before-start", "Choose an end after the start.")
        return cls._make((starts_at, ends_at))

    @property
    def minutes(self) -> int:
        """Elapsed minutes, rounded down."""
        return (self.ends_at - self.starts_at) // timedelta(minutes=1)

    def overlaps(self, other: "Period") -> bool:
        """Whether both hold a common instant; periods that only touch do not."""
        return self.starts_at < other.ends_at and other.starts_at < self.ends_at


@dataclass(frozen=True, slots=True)
class Horizon:
    """The stretch that a mask describes: `cells` cells from `starts_at`, which is rounded down to 5
    minutes UTC.
    """

    starts_at: datetime
    cells: int

    def __post_init__(self) -> None:
        starts_at = in_utc(self.starts_at)
        object.__setattr__(self, "starts_at", starts_at - (starts_at - EPOCH) % CELL)
        if self.cells < 0:
            raise ValueError("a horizon has no negative length")

    @classmethod
    def spanning(cls, since: datetime, until: datetime) -> "Horizon":
        """The smallest horizon that holds [since, until); no cells if that is empty."""
        start = cls(since, 0)
        return cls(start.starts_at, max(0, start.index_from(until)))

    @property
    def ends_at(self) -> datetime:
        """The first instant after the last cell."""
        return self.instant(self.cells)

    @property
    def full(self) -> int:
        """The mask of every cell."""
        return (1 << self.cells) - 1

    def index(self, instant: datetime) -> int:
        """The cell that holds the instant, counted from the start; below 0 or from `cells` on
        outside the horizon.
        """
        return (instant - self.starts_at) // CELL

    def index_from(self, instant: datetime) -> int:
        """The first cell that starts at the instant or later, counted like `index`."""
        return -((self.starts_at - instant) // CELL)

    def instant(self, i: int) -> datetime:
        """Where cell i starts."""
        return self.starts_at + i * CELL

    def between(self, first: int, past: int) -> int:
        """The mask of the cells first, first + 1 ... past - 1 that lie in the horizon."""
        first, past = max(first, 0), min(past, self.cells)
        return ((1 << (past - first)) - 1) << first if first < past else 0

    def mask_inward(self, period: Period) -> int:
        """The cells that lie wholly in the period: for free time."""
        return self.between(self.index_from(period.starts_at), self.index(period.ends_at))

    def mask_outward(self, period: Period) -> int:
        """The cells that share an instant with the period: for busy time."""
        return self.between(self.index(period.starts_at), self.index_from(period.ends_at))

    def busy_mask(self, busy: tuple[Period, ...]) -> int:
        """The union of `mask_outward` over several periods, in any order, overlapping or not."""
        mask, since, cells = 0, self.starts_at, self.cells
        # `mask_outward` is written out, since a search asks this of every meeting it knows.
        # Counting cells by whole days and seconds takes a third of the time of dividing by CELL.
        for starts_at, ends_at in busy:
            after, before = starts_at - since, since - ends_at
            first = after.days * _DAY_CELLS + after.seconds // _CELL_SECONDS
            past = -before.days * _DAY_CELLS - before.seconds // _CELL_SECONDS
            if first < 0:
                first = 0
            if past > cells:
                past = cells
            if first < past:
                mask |= ((1 << (past - first)) - 1) << first
        return mask


def runs(mask: int, n: int) -> int:
    """The cells that begin a run of n set cells (n at least 1)."""
    reached = 1
    while reached < n:
        step = min(reached, n - reached)
        mask &= mask >> step
        reached += step
    return mask


def bits(mask: int) -> list[int]:
    """The set cells, rising."""
    digits = bin(mask)[:1:-1]
    found = []
    at = digits.find("1")
    while at >= 0:
        found.append(at)
        at = digits.find("1", at + 1)
    return found


def stretches(mask: int) -> list[tuple[int, int]]:
    """The maximal runs of set cells as (first, past), rising."""
    shifted = mask << 1
    return list(zip(bits(mask & ~shifted), bits(shifted & ~mask), strict=True))


def periods(mask: int, horizon: Horizon) -> tuple[Period, ...]:
    """The maximal runs of set cells as periods, rising."""
    return tuple(
        Period(horizon.instant(first), horizon.instant(past)) for first, past in stretches(mask)
    )
