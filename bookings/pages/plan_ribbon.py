"""The pictures of plans: of a group one day's starts, the taller the easier for whoever pays most;
the weeks of a timetable; of who is next the times proposed on the first day; of a cover each day's
lessons; of an exchange the times that are taken.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from bookings.domain.burden import burden
from bookings.domain.timeline import Period
from bookings.domain.zones import zone
from bookings.pages.ribbon import Ribbon, draw, draw_wall, local_day
from bookings.queries.planning.cover_shown import ShownCover, ShownHandover, ShownLesson
from bookings.queries.planning.exchange_shown import ShownExchange, ShownExchanges, ShownMove
from bookings.queries.planning.group_shown import ShownGroup
from bookings.queries.planning.timetable_shown import Row, ShownTimetable
from bookings.queries.planning.who_next_shown import ShownWhoNext

MOST_BURDEN = 20
CoverRow = tuple[ShownLesson, ShownHandover | None, str]
"""A lesson with its handover, or without one and with the reason."""


@dataclass(frozen=True, slots=True)
class WeekdayPicture:
    """A weekday of an instructor's week with its lessons, `rows` of a timetable."""

    weekday: int
    zone: str
    ribbon: Ribbon
    rows: Sequence[Row] = ()


@dataclass(frozen=True, slots=True)
class CoverDay:
    """A day of the instructor who cannot teach, with the clock of the first substitute elsewhere
    below it; None where there is none.
    """

    on: date
    ribbon: Ribbon
    other_zone: str | None
    rows: Sequence[CoverRow]


def picture_of(answer: object) -> Any:
    """The picture of an answer that has one."""
    if isinstance(answer, ShownGroup) and answer.meetings:
        return _of_group(answer)
    if isinstance(answer, ShownTimetable):
        return [(instructor, _week(rows)) for instructor, rows in answer.by_instructor]
    if isinstance(answer, ShownWhoNext) and answer.first_day is not None:
        return _of_who_next(answer, answer.first_day)
    if isinstance(answer, ShownCover):
        return _of_cover(answer)
    if isinstance(answer, ShownExchanges):
        return [(exchange, _of_exchange(exchange)) for exchange in answer.exchanges]
    return None


def _ease(points: int) -> int:
    """How tall a stem is, 0-100: the greater the burden, the lower."""
    return 100 * (MOST_BURDEN - points) // MOST_BURDEN


def _of_who_next(shown: ShownWhoNext, on: date) -> Ribbon:
    """That day on the instructor's clock. All stems are of one height: what an hour costs a family
    is not drawn.
    """
    times = {row.times[0] for row in shown.proposals}
    day = local_day(on, shown.time_zone)
    starts = {at: 100 for at in sorted(times) if day.period.starts_at <= at < day.period.ends_at}
    return draw(day, teachable=[], starts=starts, best=times, other_zone=None)


def _of_group(shown: ShownGroup) -> Ribbon:
    """The first meeting's day on its instructor's clock, with another member's clock below."""
    first = shown.meetings[0]
    return draw(
        local_day(first.starts_at.astimezone(zone(first.time_zone)).date(), first.time_zone),
        teachable=[],
        starts={at: _ease(points) for at, points in shown.day.items()},
        best={first.starts_at},
        other_zone=shown.other_zone,
    )


def _week(rows: Sequence[Row]) -> list[WeekdayPicture]:
    """The weekdays on which the instructor has a lesson, each as a strip."""
    days: dict[int, list[Row]] = {}
    for row in rows:
        days.setdefault(row.place.weekday, []).append(row)
    return [
        WeekdayPicture(
            weekday,
            theirs[0].place.zone,
            draw_wall((row.place.wall_at, row.place.wall_at + row.minutes) for row in theirs),
            theirs,
        )
        for weekday, theirs in days.items()
    ]


def _of_cover(shown: ShownCover) -> list[CoverDay]:
    """Each day on the clock of the instructor who cannot teach."""
    days: dict[date, list[CoverRow]] = {}
    for row in shown.rows:
        on = row[0].starts_at.astimezone(zone(shown.time_zone)).date()
        days.setdefault(on, []).append(row)
    return [_cover_day(on, rows, shown.time_zone) for on, rows in days.items()]


def _cover_day(on: date, rows: Sequence[CoverRow], here: str) -> CoverDay:
    """The lessons as bands. A stem with a head is covered and waits for nobody's yes; the taller,
    the easier the hour on the substitute's own clock.
    """
    bands, starts, covered = [], {}, set()
    for lesson, handover, _ in rows:
        at = lesson.starts_at
        period = Period(at, at + timedelta(minutes=lesson.meeting.offering.minutes))
        bands.append(period)
        starts[at] = 0
        if handover is not None:
            starts[at] = _ease(burden(period, handover.time_zone))
            if not handover.waits:
                covered.add(at)
    other_zone = _elsewhere((handover for _, handover, _ in rows), here)
    day = local_day(on, here)
    ribbon = draw(day, teachable=bands, starts=starts, best=covered, other_zone=other_zone)
    return CoverDay(on, ribbon, other_zone, rows)


def _elsewhere(handovers: Iterable[ShownHandover | None], here: str) -> str | None:
    zones = (one.time_zone for one in handovers if one is not None)
    return next((name for name in zones if name != here), None)


def _of_exchange(exchange: ShownExchange) -> list[WeekdayPicture]:
    """The weekdays of the times that are taken, each on its instructor's clock. The taller a stem,
    the easier the worst hour of it for the family that takes it.
    """
    days: dict[tuple[int, str], list[ShownMove]] = {}
    for move in exchange.moves:
        days.setdefault((move.takes.weekday, move.takes.zone), []).append(move)
    return [
        WeekdayPicture(weekday, time_zone, _taken(moves))
        for (weekday, time_zone), moves in sorted(days.items())
    ]


def _taken(moves: Sequence[ShownMove]) -> Ribbon:
    """Of two at the same minute, with two instructors, the harder one is drawn."""
    starts: dict[int, int] = {}
    for move in moves:
        at = move.takes.wall_at
        starts[at] = min(_ease(move.burden), starts.get(at, 100))
    lessons = [(at.wall_at, at.wall_at + at.offering.minutes) for at in (m.takes for m in moves)]
    return draw_wall(lessons, starts)
