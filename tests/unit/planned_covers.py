"""Lessons and substitutes of the covers that tests plan."""

from dataclasses import replace

from bookings.domain.planning.cover import Lesson, Substitute, Teaches
from bookings.domain.timeline import Period
from tests.unit.plain_cover import at

NOON = 12 * 60
ALL_DAY = (Period(at(0), at(1440)),)
ILSE, WREN, SOREN, TOVE = 1, 2, 3, 4


def lesson(lesson_id: int, minute: int = NOON, *, offering: int = 1, met: int = 0) -> Lesson:
    """25 minutes and 5 of changeover at that minute of Monday, level 3."""
    starts_at = at(minute)
    return Lesson(lesson_id, 50 + lesson_id, starts_at, 25, 5, offering, 3, (met,) if met else ())


def substitute(
    instructor_id: int, *own: Lesson, offerings: str = "1", **more: object
) -> Substitute:
    """Somebody who teaches these offerings at every level, all day in Dublin."""
    teaches = tuple(Teaches(int(offering), 1, 10) for offering in offerings)
    plain = Substitute(instructor_id, "Europe/Dublin", teaches, ALL_DAY, lessons=own)
    return replace(plain, **more)  # type: ignore[arg-type]
