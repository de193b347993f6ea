"""Who may write on an assessment, and who may read one."""

from datetime import datetime, timedelta

from django.db.models import QuerySet

from accounts.models import Instructor, Student, User
from bookings.access.instructors import instructor_of
from bookings.access.refusals import not_there
from bookings.domain.families import is_child
from bookings.domain.vocabulary import NoteState, Standing
from bookings.models import Assessment, Booking

NOTES_STAY = timedelta(days=14)
"""For how long after a meeting its instructor writes about it and reads the note it carried."""


def may_assess(user: User, author: Instructor, student_id: int, *, now: datetime) -> bool:
    """Whether this person may write, as this instructor, a note of this student now.

    The instructor needs a booking of the student in a meeting of theirs that is held, ahead or
    taught up to 14 days ago. An admin may always.
    """
    if user.is_staff:
        return True
    return _meets(author, now).filter(student=student_id).exists()


def require_assessor(user: User, author: Instructor, student_id: int, *, now: datetime) -> None:
    """Refused("not-found") where `may_assess` says no: a student of others looks like one who is
    not there.
    """
    if not may_assess(user, author, student_id, now=now):
        raise not_there()


def _meets(instructor: Instructor, now: datetime) -> QuerySet[Booking]:
    return Booking.objects.filter(
        meeting__instructor=instructor, standing=Standing.HELD, ends_at__gt=now - NOTES_STAY
    )


def access_assessment(user: User, assessment_id: int) -> Assessment:
    """A note of one's own, to read. Whether its author may still change it is `require_assessor`'s
    to say.
    """
    found = (
        Assessment.objects.select_related("student__user", "author__user")
        .filter(pk=assessment_id, author__user=user, author__is_active=True)
        .first()
    )
    if found is None:
        raise not_there()
    return found


def reading_relation(user: User, note: Assessment, *, now: datetime) -> str | None:
    """As what this person may read the note now: "author", "family", "instructor", "admin"; None
    where she may not.

    Decided at reading time. The meeting's instructor reads the note that the booking carries, from
    booking to 14 days after; a family reads released text only, and guardians until the child is of
    age.
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


def _is_family(user: User, student: Student, now: datetime) -> bool:
    """The student, or a guardian while the student is a minor: notes are a grown child's alone."""
    if student.user_id == user.pk:
        return True
    return is_child(student, now) and student.guardianships.filter(guardian=user).exists()
