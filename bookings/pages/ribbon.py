"""The day ribbon: one local day as a strip, drawn by the server. Pure: times in, numbers out.

A day of 23 or 25 hours is as wide as any other. Positions are percentages of the width, so the
drawing stretches while its letters do not, and no style attribute is needed.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from bookings.domain.hours import DAY_MINUTES
from bookings.domain.local_days import day_period
from bookings.domain.timeline import Period
from bookings.domain.zones import zone

_STEP = timedelta(minutes=15)  # every zone in use is a multiple of this from UTC
_HOURS_APART = 3
_EDGE = 0.02  # of the width: a label nearer to an end than this would be cut
_STRIP = 56  # the height of the strip
_FLOOR, _RISE = 52, 44  # where the stem of a fit of 0 ends, and how far 100 rises above it
WIDTH = 10_000
NIGHT_FROM, NIGHT_TO = 22, 7


@dataclass(frozen=True, slots=True)
class Mark:
    """A label or a line at `x`, a percentage such as "52.08%"."""

    x: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch from `x`, `width` wide, both percentages."""

    x: str
    width: str


@dataclass(frozen=True, slots=True)
class Stem:
    """A start at `x`, `at` of WIDTH. The better it fits, the higher it is; the best have a head."""

    x: str
    at: int
    y: int
    is_best: bool


@dataclass(frozen=True, slots=True)
class Ribbon:
    """The drawing of one day. `lower` is the other clock's scale, empty if there is none."""

    upper: list[Mark]
    lower: list[Mark] = field(default_factory=list)
    nights: list[Band] = field(default_factory=list)
    bands: list[Band] = field(default_factory=list)
    stems: list[Stem] = field(default_factory=list)

    @property
    def path(self) -> str:
        """Every stem as one path, in a box that is WIDTH wide and as high as the strip."""
        return "".join(f"M{stem.at} {_STRIP}V{stem.y}" for stem in self.stems)

    @property
    def heads(self) -> list[Stem]:
        """The stems that carry a note head."""
        return [stem for stem in self.stems if stem.is_best]


@dataclass(frozen=True, slots=True)
class LocalDay:
    """One date on one clock: the instants from its midnight to the next, usually 24 hours."""

    on: date
    time_zone: str
    period: Period

    def x(self, instant: datetime) -> str:
        return percent(self._share(instant))

    def at(self, instant: datetime) -> int:
        return round(WIDTH * self._share(instant))

    def _share(self, instant: datetime) -> float:
        return (instant - self.period.starts_at) / (self.period.ends_at - self.period.starts_at)

    def band(self, period: Period) -> Band | None:
        """The part of the period that lies in this day."""
        first, past = (
            max(period.starts_at, self.period.starts_at),
            min(period.ends_at, self.period.ends_at),
        )
        return (
            Band(self.x(first), percent(self._share(past) - self._share(first)))
            if first < past
            else None
        )

    def steps(self) -> Iterable[datetime]:
        instant = self.period.starts_at
        while instant < self.period.ends_at:
            yield instant
            instant += _STEP


def local_day(on: date, time_zone: str) -> LocalDay:
    """That date on that clock."""
    return LocalDay(on, time_zone, day_period(on, time_zone))


def draw(
    day: LocalDay,
    *,
    teachable: Iterable[Period],
    starts: Mapping[datetime, int],
    best: Collection[datetime],
    other_zone: str | None,
) -> Ribbon:
    """The ribbon of one day: `teachable` as bands, each start with its fit (0-100) as a stem."""
    bands = [band for band in map(day.band, teachable) if band]
    return Ribbon(
        upper=_scale(day, day.time_zone),
        lower=_scale(day, other_zone, names_midnight=True) if other_zone else [],
        nights=_nights(day),
        bands=bands,
        stems=[
            Stem(day.x(start), day.at(start), _height(fit), start in best)
            for start, fit in starts.items()
        ],
    )


def draw_wall(
    windows: Iterable[tuple[int, int]], starts: Mapping[int, int] | None = None
) -> Ribbon:
    """A weekday of teaching hours, each (opens, closes) in minutes of the wall-clock day.

    `starts` are stems with a head, each a minute with how well it suits, 0-100.
    """

    def at(minute: int) -> str:
        return percent(minute / DAY_MINUTES)

    return Ribbon(
        upper=[Mark(at(hour * 60), f"{hour:02}") for hour in range(_HOURS_APART, 24, _HOURS_APART)],
        nights=[
            Band(at(0), at(NIGHT_TO * 60)),
            Band(at(NIGHT_FROM * 60), at(DAY_MINUTES - NIGHT_FROM * 60)),
        ],
        bands=[Band(at(opens), at(closes - opens)) for opens, closes in windows],
        stems=[
            Stem(at(minute), WIDTH * minute // DAY_MINUTES, _height(fit), is_best=True)
            for minute, fit in (starts or {}).items()
        ],
    )


def _height(fit: int) -> int:
    """Where the stem of a start that fits so well ends."""
    return _FLOOR - _RISE * fit // 100


def _scale(day: LocalDay, time_zone: str, *, names_midnight: bool = False) -> list[Mark]:
    clock = zone(time_zone)
    marks = []
    for instant in day.steps():
        local = instant.astimezone(clock)
        if local.minute or local.hour % _HOURS_APART or not _EDGE < day._share(instant) < 1 - _EDGE:
            continue
        marks.append(
            Mark(
                day.x(instant),
                f"{local:%a}" if names_midnight and local.hour == 0 else f"{local:%H}",
            )
        )
    return marks


def _nights(day: LocalDay) -> list[Band]:
    clock = zone(day.time_zone)

    def is_night(instant: datetime) -> bool:
        return not NIGHT_TO <= instant.astimezone(clock).hour < NIGHT_FROM

    return [band for band in map(day.band, _stretches(day, is_night)) if band]


def _stretches(day: LocalDay, holds: Callable[[datetime], bool]) -> list[Period]:
    found: list[Period] = []
    for instant in filter(holds, day.steps()):
        begins = instant
        if found and found[-1].ends_at == instant:
            begins = found.pop().starts_at
        found.append(Period(begins, instant + _STEP))
    return found


def percent(share: float) -> str:
    return f"{100 * share:.2f}%"
