"""The instructor a student belongs to: named and changed by an admin, ended with their teaching."""

from datetime import datetime

from accounts.models import Instructor, Student, User
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors, lock_students


def name_regular_instructor(
    *,
    actor: User,
    student: Student,
    instructor: Instructor | None,
    seen: tuple[int | None] | None = None,
    now: datetime,
) -> Student:
    """Makes `instructor` the regular instructor of this student; None leaves the student without.

    `seen` is the id of the regular instructor that the admin was shown. Refused: "already-ended"
    for an instructor who no longer teaches here, "stale" where the student has another than `seen`.
    """
    require_admin(actor)
    named = None
    if instructor is not None:
        named = lock_instructors([instructor.pk])[instructor.pk]
        if not named.is_active:
            raise Refused("already-ended", f"{named} does not teach here any more.")
    current = lock_students([student.pk])[student.pk]
    if seen is not None and seen != (current.regular_instructor_id,):
        raise Refused(
            "stale",
            f"The regular instructor of {current.first_name} has changed meanwhile: now it is "
            f"{current.regular_instructor or 'nobody'}. Check, then choose again.",
        )
    if current.regular_instructor_id != (named.pk if named else None):
        _set(actor, current, named, now)
    return current


def end_regular_students(*, actor: User, instructor: Instructor, now: datetime) -> list[Student]:
    """Leaves the students of a dismissed instructor without a regular instructor; returns them.

    The caller holds the locks of the instructor and of these students.
    """
    students = list(instructor.regular_students.select_related("user"))
    for student in students:
        _set(actor, student, None, now)
    return students


def _set(actor: User, student: Student, instructor: Instructor | None, now: datetime) -> None:
    student.regular_instructor = instructor
    student.save(update_fields=["regular_instructor"])
    record(actor=actor, verb="changed", thing=student, fields=["regular_instructor"], now=now)
