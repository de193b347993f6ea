"""Booking and moving the make-up lesson of an owed lesson, under the student's lock."""

from datetime import datetime

from accounts.models import Instructor, Student, User
from bookings.access import acts_as_school
from bookings.domain.errors import Refused
from bookings.domain.owed import check_use_by
from bookings.models import Booking, Offering, OwedLesson
from bookings.queries.owed import check_still_owed, next_to_make_up


def made_up(
    owed: OwedLesson | None,
    actor: User,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    starts_at: datetime,
) -> OwedLesson | None:
    """What a lesson makes up that is booked with these values: `owed`, if it is named.

    Otherwise what an instructor books for their student makes up what is owed of its kind. A family
    and an admin choose. Refused as `check_makes_up`.
    """
    if owed is not None:
        return check_makes_up(owed, student=student, offering=offering, starts_at=starts_at)
    is_the_instructors = actor.pk == instructor.user_id and acts_as_school(actor, student)
    if not is_the_instructors or starts_at.tzinfo is None:
        return None
    return next_to_make_up(student, offering, starts_at)


def check_makes_up(
    owed: OwedLesson, *, student: Student, offering: Offering, starts_at: datetime
) -> OwedLesson:
    """The owed lesson as it stands, which a lesson with these values may make up.

    Refused: "invalid" for another student's, "wrong-kind" for another offering or length,
    "owed-settled", and as `check_use_by`.
    """
    current = OwedLesson.objects.with_details().filter(pk=owed.pk, student=student).first()
    if current is None:
        raise Refused(
            "invalid", "Nothing is owed to this student here any more.", field="owed_lesson"
        )
    check_still_owed(current)
    if current.offering_id != offering.pk or current.minutes != offering.minutes:
        raise Refused(
            "wrong-kind",
            f"A make-up lesson is of the same kind and length: {current.offering}, "
            f"{current.minutes} minutes. If that is not taught any more, ask the school.",
        )
    if starts_at.tzinfo is not None:
        check_use_by(starts_at, current.use_by, student.zone)
    return current


def check_moves_in_time(lesson: Booking, starts_at: datetime) -> None:
    """Refused as `check_use_by` for a make-up lesson that would move past its use-by date."""
    if lesson.use_by is not None and starts_at.tzinfo is not None:
        check_use_by(starts_at, lesson.use_by, lesson.student.zone)
