"""The students whom an instructor teaches, for whom they may book, move and propose times."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from accounts.models import Guardianship, Instructor, Student, User
from bookings.access.bookings import access_booking
from bookings.access.instructors import instructor_of, is_now
from bookings.access.refusals import not_there
from bookings.access.students import access_student, acts_for
from bookings.domain.errors import Refused
from bookings.models import Booking

TAUGHT_LATELY = timedelta(days=400)
"""How long after their last lesson with a student an instructor may still book for them."""


def acts_as_school(user: User, student: Student) -> bool:
    """Whether somebody who acts for a student does so for the school, not for the family."""
    if user.pk == student.user_id:
        return False
    return not Guardianship.objects.answering().filter(guardian=user, student=student).exists()


def students_taught(instructor: Instructor, *, now: datetime) -> QuerySet[Student]:
    """The students of this instructor: held in a meeting of theirs, or theirs regularly.

    The meeting is ahead or at most 400 days ago. Students who have left the school are not among
    them.
    """
    lately = Booking.objects.held().filter(
        meeting__instructor=instructor, starts_at__gt=now - TAUGHT_LATELY
    )
    theirs = Q(pk__in=lately.order_by().values("student")) | Q(regular_instructor=instructor)
    rows = Student.objects.filter(theirs, is_active=True).exclude(user=instructor.user_id)
    return rows.select_related("user")


def access_taught_student(
    user: User, student_id: int, *, now: datetime
) -> tuple[Student, Instructor | None]:
    """A student for whom this person acts as the school, and the instructor that they are.

    An admin may act for every student, and with any instructor: None. Refused("not-found").
    """
    if user.is_staff:
        return access_student(user, student_id, now=now), None
    instructor = instructor_of(user)
    if instructor is None:
        raise not_there()
    found = students_taught(instructor, now=now).filter(pk=student_id).first()
    if found is None:
        raise not_there()
    return found, instructor


def access_student_to_book(
    user: User, student_id: int | None, *, instructor_id: int, now: datetime
) -> Student:
    """A student for whom this person may book a one-on-one with the instructor named.

    Refused as `access_student`, for an instructor who teaches the student "not-allowed" with
    anybody but themselves.
    """
    try:
        return access_student(user, student_id, now=now)
    except Refused:
        if student_id is None:
            raise
    student, instructor = access_taught_student(user, student_id, now=now)
    require_oneself(instructor, instructor_id)
    return student


def access_booking_to_move(
    user: User,
    booking_id: int,
    *,
    instructor_id: int | None = None,
    now: datetime,
    own: Sequence[Student] | None = None,
) -> Booking:
    """A booking that this person may move: the family's, or a one-on-one that they teach.

    `own` are the students they act for, where the caller has read them. Refused: "not-found";
    "not-allowed" for the instructor of a group meeting, and for one who moves a lesson to anybody
    but themselves (`instructor_id`).
    """
    found = access_booking(user, booking_id, now=now, own=own)
    if acts_for(user, found.student_id, now=now, own=own):
        return found
    if not (is_now(user, found.meeting.instructor) and found.meeting.offering.is_one_on_one):
        raise Refused(
            "not-allowed", "A place in a group meeting is the student's to move or give back."
        )
    if instructor_id is not None:
        require_oneself(found.meeting.instructor, instructor_id)
    return found


def require_oneself(instructor: Instructor | None, instructor_id: int) -> None:
    """Refused("not-allowed") where an instructor acts for another instructor's hours."""
    if instructor is not None and instructor.pk != instructor_id:
        raise Refused("not-allowed", "You can book your students for lessons with you only.")
