"""Ilse, who teaches every morning in Dublin, and Noor, who learns in New York."""

from datetime import UTC, datetime

from bookings.domain.errors import Refused
from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    StudentTime,
    check_start,
)
from bookings.domain.vocabulary import Grid

NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)

LESSON = OfferingRules(25, 5, Grid.CLOCK, 30)

EVERY_MORNING = TeachingTime(
    tuple(WeeklyWindow(weekday, 540, 720, "Europe/Dublin") for weekday in range(7))
)

ILSE = InstructorTime(1, "Europe/Dublin", EVERY_MORNING)

NOOR = StudentTime(1, "America/New_York")


def code_of(start, offering, instructor, student, policy, now) -> str | None:
    """The code that check_start refuses with, None when it lets the start through."""
    try:
        check_start(start, offering, instructor, student, policy, now)
    except Refused as refusal:
        return refusal.code
    return None
