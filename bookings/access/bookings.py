"""The bookings a person may see, and those they may change."""

from django.db.models import Q, QuerySet

from accounts.models import User
from bookings.access.instructors import is_now
from bookings.access.refusals import not_there
from bookings.access.students import own_students
from bookings.domain.errors import Refused
from bookings.models import Booking


def bookings_of(user: User) -> QuerySet[Booking]:
    """The bookings a person may see: her own, her children's, those in meetings she teaches; an admin sees all."""
    rows = Booking.objects.select_related(
        "meeting__offering", "meeting__instructor__user", "student__user", "policy"
    )
    if user.is_staff:
        return rows
    taught = Q(meeting__instructor__user=user, meeting__instructor__is_active=True)
    return rows.filter(
        Q(student__user=user) | Q(student__guardianships__guardian=user) | taught
    ).distinct()


def access_booking(user: User, booking_id: int) -> Booking:
    """A booking one may see."""
    found = bookings_of(user).filter(pk=booking_id).first()
    if found is None:
        raise not_there()
    return found


def access_own_booking(user: User, booking_id: int) -> Booking:
    """A booking one may change as its student, guardian or as an admin; its instructor calls meetings off instead."""
    found = access_booking(user, booking_id)
    if not (user.is_staff or own_students(user).filter(pk=found.student_id).exists()):
        raise Refused(
            "not-allowed",
            "An instructor calls the meeting off; the booking is the student's to cancel or move.",
        )
    return found


def access_brief(user: User, booking_id: int) -> Booking:
    """A booking whose brief one may read: the meeting's instructor's, nobody else's."""
    found = access_booking(user, booking_id)
    if not is_now(user, found.meeting.instructor):
        raise not_there()
    return found
