"""The strip of one day's teaching: meetings as blocks, hours above, rests below. Pure: times in,
positions out.

Unlike the day ribbon it shows only the stretch in which the instructor teaches, in percent of the
width.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from bookings.domain.local_days import overlap
from bookings.domain.timeline import Period
from bookings.domain.zones import zone
from bookings.pages.ribbon import Band, Mark

_HOUR = timedelta(hours=1)
_QUARTER = timedelta(minutes=15)  # every zone in use is a multiple of this from UTC
_MOST_LABELS = 12
_LEAST_REST = timedelta(minutes=10)
"""A shorter gap is only the changeover."""
_NARROWEST = 0.03
"""Of the width: a rest narrower than this has no room for its words."""
_PIXELS_A_PERCENT, _PIXELS_A_LETTER = 11, 9
"""Of a strip on a wide screen, and of a name on a block."""


@dataclass(frozen=True, slots=True)
class Block:
    """A meeting on the strip, with the word on it, what a link says, and where the link leads."""

    band: Band
    word: str
    told: str
    address: str
    is_over: bool


@dataclass(frozen=True, slots=True)
class Strip:
    """The drawing. `now` is empty unless now lies in the stretch."""

    hours: list[Mark]
    teaching: list[Band]
    blocks: list[Block]
    rests: list[Mark]
    now: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """The part of a day that the strip shows."""

    period: Period

    def share(self, instant: datetime) -> float:
        return (instant - self.period.starts_at) / (self.period.ends_at - self.period.starts_at)

    def x(self, instant: datetime) -> str:
        return f"{100 * self.share(instant):.2f}%"

    def band(self, period: Period) -> Band | None:
        """The part of the period that is shown."""
        shown = overlap(period, self.period)
        if shown is None:
            return None
        width = self.share(shown.ends_at) - self.share(shown.starts_at)
        return Band(self.x(shown.starts_at), f"{100 * width:.2f}%")


def stretch_of(day: Period, shown: Iterable[Period], time_zone: str) -> Stretch | None:
    """From the full hour before the first of these to the full hour after the last, within the day.

    None for a day without any.
    """
    parts = [part for part in (overlap(period, day) for period in shown) if part]
    if not parts:
        return None
    first = min(part.starts_at for part in parts) - _HOUR / 2
    past = max(part.ends_at for part in parts) + _HOUR / 2
    local = first.astimezone(zone(time_zone))
    first -= timedelta(minutes=local.minute, seconds=local.second)
    past += (_HOUR - timedelta(minutes=past.astimezone(zone(time_zone)).minute)) % _HOUR
    return Stretch(Period(max(first, day.starts_at), min(past, day.ends_at)))


def hours_of(stretch: Stretch, time_zone: str) -> list[Mark]:
    """The full hours of the wall clock, every second or third where there are many."""
    clock, marks = zone(time_zone), []
    length = stretch.period.ends_at - stretch.period.starts_at
    every = 1 + length // (_HOUR * _MOST_LABELS)
    instant = stretch.period.starts_at
    while instant < stretch.period.ends_at:
        local = instant.astimezone(clock)
        if local.minute == 0 and local.hour % every == 0:
            marks.append(Mark(stretch.x(instant), f"{local:%H}"))
        instant += _QUARTER
    return marks


def rests_of(stretch: Stretch, meetings: Sequence[Period]) -> list[Mark]:
    """The pauses between meetings of at least ten minutes, each named in the middle."""
    marks = []
    for before, after in pairwise(meetings):
        length = after.starts_at - before.ends_at
        is_wide = stretch.share(after.starts_at) - stretch.share(before.ends_at) >= _NARROWEST
        if length >= _LEAST_REST and is_wide:
            middle = before.ends_at + length / 2
            marks.append(Mark(stretch.x(middle), f"rest {in_hours(length)}"))
    return marks


def fitting(word: str, band: Band) -> str:
    """The word if it fits into a block of that width on a wide screen, else its first letter."""
    room = float(band.width.rstrip("%")) * _PIXELS_A_PERCENT
    return word if len(word) * _PIXELS_A_LETTER <= room else word[:1]


def in_hours(length: timedelta) -> str:
    """ "20" of twenty minutes; "1:30" of an hour and a half."""
    hours, minutes = divmod(length // timedelta(minutes=1), 60)
    return f"{hours}:{minutes:02}" if hours else f"{minutes}"
