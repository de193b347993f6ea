"""Ilse, who teaches at any hour, on days that are nearly full."""

from datetime import UTC, datetime, timedelta

from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    SlotRequest,
    StudentTime,
    explain_start,
    find_slots,
)
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Grid

NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)

LESSON = OfferingRules(30, 5, Grid.CLOCK, 5)

NOOR = StudentTime(1, "America/New_York")

ALWAYS = TeachingTime(
    tuple(WeeklyWindow(weekday, 0, 1440, "Europe/Dublin") for weekday in range(7))
)


def utc(text: str) -> datetime:
    """Such as "2027-03-03T10:00", a Wednesday, as UTC, which is Dublin's clock in early March."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def ilse(*meetings: tuple[str, int], zone: str = "Europe/Dublin") -> InstructorTime:
    """Ilse, who teaches at any hour, with meetings as (start, minutes) and five minutes of
    changeover.
    """
    taught = tuple(
        Period(utc(start), utc(start) + timedelta(minutes=minutes)) for start, minutes in meetings
    )
    held = tuple(
        Period(period.starts_at, period.ends_at + timedelta(minutes=5)) for period in taught
    )
    return InstructorTime(1, zone, ALWAYS, meetings=held, taught=taught)


def starts(
    instructor: InstructorTime, since: str, until: str, policy: Policy | None = None
) -> list[str]:
    """The starts offered in [since, until) as "HH:MM" in UTC."""
    found = find_slots(
        SlotRequest(LESSON, utc(since), utc(until)), [instructor], NOOR, policy or Policy(), NOW
    )
    return [f"{slot.starts_at:%H:%M}" for slot in found]


def only_reason(
    instructor: InstructorTime, start: str, policy: Policy | None = None
) -> tuple[str, str, dict]:
    """(code, sentence, numbers) of the one thing that stands against the start."""
    (reason,) = explain_start(utc(start), LESSON, instructor, NOOR, policy or Policy(), NOW)
    return reason.code, reason.sentence, dict(reason.numbers)
