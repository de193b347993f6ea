"""Who may write on an assessment, and who may read one."""

from datetime import datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings.access.instructors import instructor_of
from bookings.access.refusals import not_there
from bookings.domain.families import is_child
from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment, Booking, BookingQuerySet

NOTES_STAY = timedelta(days=14)
"""How long after a meeting its instructor may write about it and read the booking's assessment."""


def may_assess(user: User, author: Instructor, student_id: int, *, now: datetime) -> bool:
    """Whether this person may write assessments of this student in the name of `author`.

    The student needs a held booking in a meeting of the author's, ahead or at most 14 days ago, or
    the author as their regular instructor. An admin may always.
    """
    return user.is_staff or _teaches(author, student_id, now)


def knows_student(instructor: Instructor, student: Student) -> bool:
    """Whether this is the student's regular instructor, or has released a note about them."""
    has_released = Assessment.objects.released().filter(student=student, author=instructor)
    return student.regular_instructor_id == instructor.pk or has_released.exists()


def _teaches(author: Instructor, student_id: int, now: datetime) -> bool:
    if _meets(author, now).filter(student=student_id).exists():
        return True
    return author.is_active and author.regular_students.filter(pk=student_id).exists()


def require_assessor(user: User, author: Instructor, student_id: int, *, now: datetime) -> None:
    """Refused("not-found") where `may_assess` is False."""
    if not may_assess(user, author, student_id, now=now):
        raise not_there()


def _meets(instructor: Instructor, now: datetime) -> BookingQuerySet:
    """Bookings with this instructor, ahead or at most 14 days ago."""
    held = Booking.objects.held().filter(meeting__instructor=instructor)
    return held.ending_after(now - NOTES_STAY)


def access_assessment(user: User, assessment_id: int) -> Assessment:
    """An assessment that this person has written. Refused("not-found").

    They may always read it; `require_assessor` tells whether they may still change it.
    """
    found = (
        Assessment.objects.select_related("student__user", "author__user", "meeting__offering")
        .filter(pk=assessment_id, author__user=user, author__is_active=True)
        .first()
    )
    if found is None:
        raise not_there()
    return found


def reading_relation(user: User, note: Assessment, *, now: datetime) -> str | None:
    """In which relation this person may read the note now; None where they may not.

    It is "author", "family", "instructor" or "admin". A family reads released notes only, and
    guardians read until the child is of age. Another instructor reads the note of a booking in a
    meeting of theirs until 14 days after it.
    """
    if note.author.user_id == user.pk and note.author.is_active:
        return "author"
    if note.state != NoteState.RELEASED:
        return None
    if _is_family(user, note.student, now):
        return "family"
    reader = instructor_of(user)
    if reader is not None and _meets(reader, now).filter(assessment=note).exists():
        return "instructor"
    return "admin" if user.is_staff else None


def history_relation(user: User, student: Student, *, now: datetime) -> str | None:
    """In which relation this person may read every released note about the student; None if not.

    It is "family", "instructor" or "admin". The instructor may write about the student now, and has
    released a note about them before or is their regular instructor: another one reads the note of
    their booking only.
    """
    if _is_family(user, student, now):
        return "family"
    reader = instructor_of(user)
    if reader is not None and knows_student(reader, student) and _teaches(reader, student.pk, now):
        return "instructor"
    return "admin" if user.is_staff else None


def _is_family(user: User, student: Student, now: datetime) -> bool:
    """Whether this person is the student or, while the student is a minor, a guardian."""
    if student.user_id == user.pk:
        return True
    return is_child(student, now) and student.guardianships.filter(guardian=user).exists()
