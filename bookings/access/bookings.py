"""The bookings a person may see, and those they may change."""

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Q, QuerySet

from accounts.models import Student, User
from bookings.access.instructors import is_now
from bookings.access.refusals import not_there
from bookings.access.students import acts_for, own_students
from bookings.domain.errors import Refused
from bookings.models import Booking


def bookings_of(
    user: User, *, now: datetime, own: Sequence[Student] | None = None
) -> QuerySet[Booking]:
    """The bookings a person may see: their own, those of students they answer for, those in
    meetings they teach; an admin sees all.
    """
    rows = Booking.objects.select_related(
        "meeting__offering", "meeting__instructor__user", "student__user", "policy"
    )
    if user.is_staff:
        return rows
    taught = Q(meeting__instructor__user=user, meeting__instructor__is_active=True)
    students = own_students(user, now=now) if own is None else own
    return rows.filter(Q(student__in=students) | taught)


def access_booking(
    user: User, booking_id: int, *, now: datetime, own: Sequence[Student] | None = None
) -> Booking:
    """A booking one may see."""
    rows = bookings_of(user, now=now, own=own).select_related("intake")
    found = rows.filter(pk=booking_id).first()
    if found is None:
        raise not_there()
    return found


def access_own_booking(
    user: User, booking_id: int, *, now: datetime, own: Sequence[Student] | None = None
) -> Booking:
    """A booking one may change as its student, guardian or as an admin; its instructor calls
    meetings off instead. `own` are the students they act for, where the caller has read them.
    """
    found = access_booking(user, booking_id, now=now, own=own)
    if not acts_for(user, found.student_id, now=now, own=own):
        raise Refused(
            "not-allowed",
            "An instructor calls the meeting off; the booking is the student's to cancel or move.",
        )
    return found


def access_brief(user: User, booking_id: int, *, now: datetime) -> Booking:
    """A booking whose brief one may read: the meeting's instructor's, nobody else's."""
    found = access_booking(user, booking_id, now=now)
    if not is_now(user, found.meeting.instructor):
        raise not_there()
    return found
