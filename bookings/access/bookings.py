"""The bookings a person may see, and those they may change."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import BooleanField, Exists, ExpressionWrapper, F, OuterRef, Q, Subquery

from accounts.models import Student, User
from bookings.access.instructors import is_now
from bookings.access.refusals import not_there
from bookings.access.students import acts_for, own_students
from bookings.domain.errors import Refused
from bookings.models import Assessment, Booking, BookingQuerySet


def bookings_of(
    user: User, *, now: datetime, own: Sequence[Student] | None = None
) -> BookingQuerySet:
    """The bookings that a person may see, with details and no proposed times; an admin sees all.

    Others see their own, those of students for whom they answer, and those in meetings they teach.
    """
    rows = Booking.objects.not_proposed().with_details()
    if user.is_staff:
        return rows
    taught = Q(meeting__instructor__user=user, meeting__instructor__is_active=True)
    students = own_students(user, now=now) if own is None else own
    return rows.filter(Q(student__in=students) | taught)


def access_booking(
    user: User, booking_id: int, *, now: datetime, own: Sequence[Student] | None = None
) -> Booking:
    """A booking that this person may see. Refused("not-found")."""
    rows = bookings_of(user, now=now, own=own).select_related("intake")
    found = rows.filter(pk=booking_id).first()
    if found is None:
        raise not_there()
    return found


def live_place(
    user: User,
    meeting_id: int,
    *,
    booking_id: int | None = None,
    student_id: int | None = None,
    now: datetime,
) -> Booking | None:
    """The live place in this meeting that a booking or a student names; None for one that this
    person may not see, or that has gone.
    """
    rows = bookings_of(user, now=now).live().filter(meeting=meeting_id)
    named = {"student": student_id} if booking_id is None else {"pk": booking_id}
    return rows.filter(**named).first()


def access_own_booking(
    user: User, booking_id: int, *, now: datetime, own: Sequence[Student] | None = None
) -> Booking:
    """A booking that this person may change: as its student, their guardian or an admin.

    `own` are the students they act for, where the caller has read them.
    Refused: "not-found"; "not-allowed" for its instructor, who calls meetings off instead.
    """
    found = access_booking(user, booking_id, now=now, own=own)
    if not acts_for(user, found.student_id, now=now, own=own):
        raise Refused(
            "not-allowed",
            "An instructor calls the meeting off; the booking is the student's to cancel or move.",
        )
    return found


def access_brief(user: User, booking_id: int, *, now: datetime) -> Booking:
    """A booking whose brief this person may read: only as the meeting's instructor.

    Refused("not-found").
    """
    found = access_booking(user, booking_id, now=now)
    if not is_now(user, found.meeting.instructor):
        raise not_there()
    return found


def access_wrap_up(user: User, booking_id: int, *, now: datetime) -> Booking:
    """A booking that this person wraps up, with its intake and its mark: one query.

    Only for the meeting's instructor. `next_at` is when the two meet next, if that is booked;
    `knows_student` is whether the instructor has released a note about the student or is their
    regular instructor. Refused("not-found").
    """
    mine = Booking.objects.not_proposed().filter(
        meeting__instructor__user=user, meeting__instructor__is_active=True
    )
    ahead = Booking.objects.held().ahead(now).filter(student=OuterRef("student"))
    ahead = ahead.filter(meeting__instructor=OuterRef("meeting__instructor")).order_by("starts_at")
    released = Assessment.objects.released().filter(
        student=OuterRef("student"), author=OuterRef("meeting__instructor")
    )
    is_theirs = Q(student__regular_instructor=F("meeting__instructor"))
    rows = mine.with_details().select_related("intake", "mark", "meeting__instructor__week")
    knows = ExpressionWrapper(
        Q(Exists(released.order_by())) | is_theirs, output_field=BooleanField()
    )
    more: dict[str, Any] = {
        "next_at": Subquery(ahead.values("starts_at")[:1]),
        "knows_student": knows,
    }
    found = rows.annotate(**more).filter(pk=booking_id).first()
    if found is None:
        raise not_there()
    return found
