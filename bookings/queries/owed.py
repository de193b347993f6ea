"""Owed lessons: what a booking stands for, what is owed for it, what is used of the limit."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Exists, OuterRef

from accounts.models import Student
from bookings.domain.errors import Refused
from bookings.domain.owed import LessonEnd, date_in_words, limit_in_words, reminder_on
from bookings.domain.vocabulary import Attendance, Ended
from bookings.domain.zones import zone
from bookings.models import Booking, Mark, Offering, OwedLesson, Term


def lesson_end(booking: Booking, attendance: str | None = None) -> LessonEnd:
    """A one-on-one as domain.owed judges it. `attendance` is what the register says of it."""
    return LessonEnd(
        ends_at=booking.ends_at,
        ended=Ended(booking.ended_why) if booking.ended_why else None,
        attendance=Attendance(attendance) if attendance else None,
        is_promised=booking.meeting.weekly_place_id is not None,
        is_make_up=booking.makes_up_id is not None,
    )


def marked_as(booking: Booking) -> str | None:
    """What the register says of a booking; None where it is not marked."""
    return Mark.objects.filter(booking=booking).values_list("attendance", flat=True).first()


def owed_for(booking: Booking) -> OwedLesson | None:
    """What is owed for this very lesson."""
    return OwedLesson.objects.with_details().filter(booking=booking).first()


def next_to_make_up(student: Student, offering: Offering, starts_at: datetime) -> OwedLesson | None:
    """What a lesson of this offering would make up at this start: the one to be used first."""
    on = starts_at.astimezone(zone(student.zone)).date()
    rows = OwedLesson.objects.still_owed().of(student).filter(use_by__gte=on)
    return rows.filter(offering=offering, minutes=offering.minutes).order_by("use_by", "pk").first()


def made_up_by(owed: OwedLesson) -> Booking | None:
    """The make-up lesson that was booked for an owed lesson, whatever became of it."""
    return Booking.objects.with_details().filter(makes_up=owed).first()


def used_of_limit(booking: Booking) -> int:
    """How many other lessons of this term count against what the family may make up."""
    place = booking.meeting.weekly_place
    if place is None:
        return 0
    rows = OwedLesson.objects.used_of_limits().of(booking.student_id)
    return rows.filter(term=place.term_id).exclude(booking=booking).count()


def is_limit_used(booking: Booking) -> bool:
    """Whether one more lesson that the family cancels is not made up, by the booking's policy."""
    return used_of_limit(booking) >= booking.policy.make_ups_a_term


@dataclass(frozen=True, slots=True)
class OwedTo:
    """What one student is owed and was: one query."""

    still_owed: list[OwedLesson]
    used: Mapping[int | None, int]
    """How many count against what the family may make up, by the id of the term."""
    terms: list[Term]


def owed_to(student: Student, *, now: datetime) -> OwedTo:
    """What the school owes this student, by use-by date, and what the family has used."""
    rows = OwedLesson.objects.of(student).with_details()
    more: dict[str, Any] = {"is_made_up": Exists(Booking.objects.filter(makes_up=OuterRef("pk")))}
    found = list(rows.annotate(**more))
    counted = (row.term_id for row in found if row.counts_in_limit)
    return OwedTo(
        still_owed=[
            row for row in found if not (row.is_closed or row.is_made_up or is_over(row, now))
        ],
        used=Counter(counted),
        terms=[row.term for row in found if row.term is not None],
    )


def used_by_term(student: Student) -> dict[int | None, int]:
    """How many lessons count against what the family may make up, by the id of the term."""
    rows = OwedLesson.objects.used_of_limits().filter(student=student).order_by()
    return dict(rows.values_list("term").annotate(Count("pk")))


def said_of_cancelling(booking: Booking, used: Mapping[int | None, int]) -> str:
    """What a family reads beside "free of charge": whether the lesson would be made up."""
    if booking.makes_up is not None:
        by = date_in_words(booking.makes_up.use_by)
        return f"If you cancel it, you can choose another time for this make-up lesson until {by}."
    place = booking.meeting.weekly_place
    if place is None:
        return ""
    return limit_in_words(used.get(place.term_id, 0), booking.policy.rules())


def term_of(booking: Booking) -> Term | None:
    """The term whose account counts this lesson: that of what it makes up, of its weekly place, or
    the first one in which a single private lesson falls.
    """
    if booking.makes_up is not None:
        return booking.makes_up.term
    if booking.meeting.weekly_place is not None:
        return booking.meeting.weekly_place.term
    if not booking.meeting.offering.is_private_lesson:
        return None
    on = booking.meeting.wall_on
    return Term.objects.filter(first_on__lte=on, last_on__gte=on).first()


def is_over(owed: OwedLesson, now: datetime) -> bool:
    """Whether the use-by date has passed on the student's clock."""
    return owed.is_over_on(now.astimezone(zone(owed.student.zone)).date())


def is_reminder_due(owed: OwedLesson, now: datetime) -> bool:
    """Whether the use-by date is near, and was not yet when the lesson became owed: an email has
    told the family that date at once.
    """
    return is_near(owed, now) and not is_over(owed, now) and not is_near(owed, owed.owed_at)


def is_near(owed: OwedLesson, now: datetime) -> bool:
    """Whether the family is, or has been, to be reminded of the use-by date by now."""
    return now.astimezone(zone(owed.student.zone)).date() >= reminder_on(owed.use_by)


def check_still_owed(owed: OwedLesson) -> None:
    """Refused("owed-settled") where it has been made up or closed."""
    if owed.is_closed:
        raise Refused("owed-settled", "This owed lesson has lapsed or been settled by the school.")
    if owed.make_ups.exists():
        raise Refused(
            "owed-settled",
            "A make-up lesson has been booked for this owed lesson. It stands in My lessons.",
        )
