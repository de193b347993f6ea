"""Who reads what hurts: the one door to that text, which is health data."""

from datetime import datetime

from accounts.models import Student, User
from bookings.access.instructors import is_now
from bookings.access.students import own_students
from bookings.domain.vocabulary import Standing
from bookings.models import Booking


def is_family(user: User, student: Student, *, now: datetime) -> bool:
    """Whether this person is the student or answers for them. An admin's role adds nothing."""
    return any(row.pk == student.pk for row in own_students(user, now=now))


def hurts_for(user: User, booking: Booking, *, now: datetime) -> str:
    """What the student says hurts, as far as this person may read it; empty for anybody else.

    The instructor of the meeting reads it while the booking is held, and the family always. An
    admin who is neither reads nothing.
    """
    intake = getattr(booking, "intake", None)
    if intake is None or not intake.sealed_hurts:
        return ""
    teaches = reads_hurts_as(user, booking) == "instructor"
    return intake.hurts if teaches or is_family(user, booking.student, now=now) else ""


def reads_hurts_as(user: User, booking: Booking) -> str:
    """In which relation somebody for whom `hurts_for` has a text reads it: "instructor" or
    "family".
    """
    teaches = is_now(user, booking.meeting.instructor) and booking.standing == Standing.HELD
    return "instructor" if teaches else "family"
