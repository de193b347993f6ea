"""Teaching hours: weekly wall-clock windows, extra hours and days away become instants.

An instant is teachable if its wall time lies in a window and not on a day away. So a wall time in a
gap is never offered, and a repeated hour offers both its instants.
"""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL_MINUTES, EPOCH, Horizon, Period
from bookings.domain.wall import DAY, Seconds, joined, pieces, seconds, spans
from bookings.domain.zones import zone

DAY_MINUTES = 1440
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_EPOCH_ON = date(1970, 1, 1)
_CELL_SECONDS = CELL_MINUTES * 60
_PAD = 2 * DAY  # a window that began before the horizon is found whole


@dataclass(frozen=True, slots=True)
class WeeklyWindow:
    """Every week on `weekday` (0 = Monday) from `opens` to `closes`, minutes of the day (0-1440) on
    the zone's wall clock.
    """

    weekday: int
    opens: int
    closes: int
    time_zone: str


@dataclass(frozen=True, slots=True)
class DatedWindow:
    """Extra hours on one date, minutes of the day (0-1440) on the zone's wall clock."""

    on: date
    opens: int
    closes: int
    time_zone: str


@dataclass(frozen=True, slots=True)
class Away:
    """Days away, first and last included, on the zone's calendar.

    They win over weekly and extra hours. `from_minute` of the first day and `to_minute` of the last
    bound them where only hours are taken.
    """

    first_on: date
    last_on: date
    time_zone: str
    from_minute: int = 0
    to_minute: int = DAY_MINUTES

    @property
    def is_whole_days(self) -> bool:
        """Whether nothing at all is taught on these dates."""
        return self.from_minute == 0 and self.to_minute == DAY_MINUTES

    def covers(self, wall: datetime) -> bool:
        """Whether this wall time in the zone lies in it."""
        minute = wall.hour * 60 + wall.minute
        since, until = (self.first_on, self.from_minute), (self.last_on, self.to_minute)
        return since <= (wall.date(), minute) < until


@dataclass(frozen=True, slots=True)
class TeachingTime:
    """The teaching hours that one instructor has published."""

    weekly: tuple[WeeklyWindow, ...] = ()
    extra: tuple[DatedWindow, ...] = ()
    away: tuple[Away, ...] = ()


@dataclass(frozen=True, slots=True)
class StoredHours:
    """Teachable time, computed once: the mask of `teachable` over a horizon."""

    horizon: Horizon
    mask: int

    def over(self, horizon: Horizon) -> int | None:
        """The mask over a shorter horizon; None if that one is not wholly inside."""
        first = self.horizon.index(horizon.starts_at)
        if first < 0 or first + horizon.cells > self.horizon.cells:
            return None
        return self.mask >> first & horizon.full


def away_over(stretch: Period, time_zone: str) -> Away:
    """The hours away that cover this stretch on the zone's clock, on whole minutes outward."""
    clock = zone(time_zone)
    first = stretch.starts_at.astimezone(clock)
    last = stretch.ends_at.astimezone(clock) + timedelta(seconds=59, microseconds=999_999)
    since, until = first.hour * 60 + first.minute, last.hour * 60 + last.minute
    if until == 0:
        return Away(first.date(), last.date() - timedelta(days=1), time_zone, since)
    if first.date() == last.date() and until <= since:
        # The clocks go back within the stretch, by an hour at most: both passes of it are covered.
        since, until = max(until - 60, 0), min(since + 60, DAY_MINUTES)
    return Away(first.date(), last.date(), time_zone, since, until)


def teachable(teaching: TeachingTime, horizon: Horizon) -> int:
    """The cells of the horizon that lie wholly in teachable time."""
    since = seconds(horizon.starts_at)
    mask = 0
    for first, past in joined(sorted(_windows(teaching, horizon))):
        mask |= horizon.between(
            -((since - first) // _CELL_SECONDS), (past - since) // _CELL_SECONDS
        )
    return mask


def window_periods(teaching: TeachingTime, horizon: Horizon) -> tuple[Period, ...]:
    """Each published window on each date that touches the horizon, whole, rising by start.

    A clock change, or a day away in another zone, may cut a window into several periods or leave
    none of it.
    """
    found = (
        Period(_instant(first), _instant(past))
        for first, past in sorted(_windows(teaching, horizon))
    )
    return tuple(
        period
        for period in found
        if period.starts_at < horizon.ends_at and horizon.starts_at < period.ends_at
    )


def _windows(teaching: TeachingTime, horizon: Horizon) -> Iterator[Seconds]:
    since = seconds(horizon.starts_at) - _PAD
    until = since + horizon.cells * _CELL_SECONDS + 2 * _PAD
    away = [piece for days in teaching.away for piece in _away_pieces(days, since, until)]
    for window in teaching.weekly:
        zone_spans = spans(window.time_zone, since, until)
        first_day = (since + zone_spans[0].offset) // DAY
        first_day += (window.weekday - (first_day + 3)) % 7  # 1970-01-01 was a Thursday
        for midnight in range(first_day * DAY, until + zone_spans[-1].offset, 7 * DAY):
            yield from _without(
                pieces(midnight + window.opens * 60, midnight + window.closes * 60, zone_spans),
                away,
            )
    for extra in teaching.extra:
        midnight = (extra.on - _EPOCH_ON).days * DAY
        yield from _without(
            pieces(
                midnight + extra.opens * 60,
                midnight + extra.closes * 60,
                spans(extra.time_zone, since, until),
            ),
            away,
        )


def _away_pieces(away: Away, since: int, until: int) -> list[Seconds]:
    first = (away.first_on - _EPOCH_ON).days * DAY + away.from_minute * 60
    past = (away.last_on - _EPOCH_ON).days * DAY + away.to_minute * 60
    return pieces(first, past, spans(away.time_zone, since, until))


def _without(windows: list[Seconds], away: list[Seconds]) -> list[Seconds]:
    for gone_since, gone_until in away:
        windows = [
            (since, until)
            for window_since, window_until in windows
            for since, until in (
                (window_since, min(window_until, gone_since)),
                (max(window_since, gone_until), window_until),
            )
            if since < until
        ]
    return windows


def _instant(second: int) -> datetime:
    return EPOCH + timedelta(seconds=second)


@dataclass(frozen=True, slots=True)
class WeekFault:
    """Why a window cannot be published.

    Its index in the week, a code, and a sentence that does not name the weekday.
    """

    position: int
    code: str
    sentence: str


def check_week(windows: Sequence[WeeklyWindow]) -> None:
    """Refuses a week that cannot be published, for its first fault.

    The refusal carries `position`, the index of the window. Refused: "unknown-zone",
    "end-before-start", and "invalid" off the 5-minute grid, outside the day or overlapping.
    """
    for position, window in enumerate(windows):
        zone(window.time_zone)
        if not 0 <= window.weekday < len(WEEKDAYS):
            raise Refused(
                "invalid", "Choose a weekday from 0 (Monday) to 6 (Sunday).", position=position
            )
    rows = [((row.weekday, row.time_zone), row.opens, row.closes) for row in windows]
    for fault in faults_of_week(rows):
        weekday = WEEKDAYS[windows[fault.position].weekday]
        raise Refused(fault.code, f"{weekday} {fault.sentence}", position=fault.position)


def faults_of_week(windows: Sequence[tuple[Hashable, int, int]]) -> Iterator[WeekFault]:
    """All faults of windows (day, opens, closes): first each window's own, then overlaps on one
    day.
    """
    whole = []
    for position, (_, opens, closes) in enumerate(windows):
        said = _span(opens, closes)
        if opens % CELL_MINUTES or closes % CELL_MINUTES:
            yield WeekFault(position, "invalid", f"{said}: choose times on whole 5 minutes.")
        elif opens < 0 or closes > DAY_MINUTES:
            yield WeekFault(position, "invalid", f"{said}: choose times from 00:00 to 24:00.")
        elif closes <= opens:
            yield WeekFault(
                position,
                "end-before-start",
                f"{said}: choose an end after the start; past midnight takes two windows.",
            )
        else:
            whole.append(position)
    for rank, position in enumerate(whole):
        day, opens, closes = windows[position]
        for earlier in whole[:rank]:
            other_day, since, until = windows[earlier]
            if other_day == day and since < closes and opens < until:
                yield WeekFault(
                    position,
                    "invalid",
                    f"{_span(since, until)} and {_span(opens, closes)} overlap: join them or move "
                    "one.",
                )


def _span(opens: int, closes: int) -> str:
    return "-".join(f"{minute // 60:02}:{minute % 60:02}" for minute in (opens, closes))
