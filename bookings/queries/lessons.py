"""A student's lessons: what is booked, offered and past, and one of them by its start."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from accounts.models import Instructor, Student
from bookings.domain.vocabulary import Ended, Standing
from bookings.models import Booking, Intake, Meeting, MoveRequest, Offering

_PAST = 10


@dataclass(frozen=True, slots=True)
class Lessons:
    """One student's bookings by where they stand; `asked` holds open requests to move."""

    held: list[Booking]
    offers: list[Booking]
    called_off: list[Booking]
    past: list[Booking]
    asked: dict[int, MoveRequest]


def lessons_of(student: Student, *, now: datetime) -> Lessons:
    """What lies ahead, and the last ten that have been."""
    rows = (
        Booking.objects.of(student)
        .not_proposed()
        .select_related(
            "meeting__offering", "meeting__instructor__user", "policy", "intake", "mark"
        )
    )
    ahead = list(rows.ending_after(now).order_by("starts_at", "pk"))
    past = rows.held().filter(ends_at__lte=now)
    asked = MoveRequest.objects.unanswered().filter(booking__student=student)
    return Lessons(
        held=[row for row in ahead if row.standing == Standing.HELD],
        offers=[row for row in ahead if _is_open_offer(row, now)],
        called_off=[row for row in ahead if _is_called_off(row)],
        past=list(past.order_by("-starts_at")[:_PAST]),
        asked={row.booking_id: row for row in asked},
    )


def _is_open_offer(booking: Booking, now: datetime) -> bool:
    answer_by = booking.answer_by
    return booking.standing == Standing.OFFERED and answer_by is not None and answer_by > now


def _is_called_off(booking: Booking) -> bool:
    """Whether the school called it off, and it has not been reinstated."""
    return booking.ended_why == Ended.CALLED_OFF and booking.meeting.is_cancelled


def held_at(
    student: Student, offering: Offering, instructor: Instructor, starts_at: datetime
) -> Booking | None:
    """The student's own booking of that very start, if it stands."""
    that_start = Booking.objects.of(student).held().filter(starts_at=starts_at)
    return that_start.filter(meeting__offering=offering, meeting__instructor=instructor).first()


def intake_of(booking: Booking) -> Intake | None:
    """What the student has written before it, if anything."""
    return Intake.objects.filter(booking=booking).first()


def other_meetings(booking: Booking, *, now: datetime) -> QuerySet[Meeting]:
    """Meetings of the same offering ahead, to which a place may move."""
    ahead = Meeting.objects.not_called_off().ahead(now)
    others = ahead.filter(offering=booking.meeting.offering).exclude(pk=booking.meeting_id)
    return others.select_related("instructor__user")
