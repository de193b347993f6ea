"""Reads of assessments. Callers that show a body check access first and log the reading."""

from collections.abc import Iterable

from django.db.models import OuterRef, QuerySet, Subquery

from accounts.models import Instructor, Student, User
from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment


def written_by(author: Instructor) -> QuerySet[Assessment]:
    """Every version of every assessment by this author, drafts included."""
    return Assessment.objects.filter(author=author).select_related("student__user", "author__user")


def latest_released(student: Student) -> Assessment | None:
    """The student's latest released assessment: the newest version of the note released last."""
    return (
        Assessment.objects.released()
        .filter(student=student)
        .select_related("author__user", "student__user")
        .order_by("-released_at", "-id")
        .first()
    )


def latest_of(students: Iterable[Student]) -> dict[int, Assessment]:
    """The latest released assessment of each of these students, by student id: one query."""
    released = Assessment.objects.released()
    latest = released.filter(student=OuterRef("student")).order_by("-released_at", "-id")
    rows = released.filter(student__in=students, pk=Subquery(latest.values("pk")[:1]))
    return {note.student_id: note for note in rows.select_related("author__user", "student__user")}


def one_note(note_id: int) -> Assessment | None:
    """A note by its id; ask access.reading_relation whether the reader may see it."""
    rows = Assessment.objects.select_related("author__user", "student__user")
    return rows.filter(pk=note_id).first()


def drafts_about(student: Student, author: User) -> QuerySet[Assessment]:
    """This author's drafts about the student, the latest first."""
    drafts = Assessment.objects.drafts().filter(student=student, author__user=author)
    return drafts.order_by("-written_at")


def is_latest(note: Assessment) -> bool:
    """Whether this is the student's latest released assessment."""
    latest = latest_released(note.student)
    return latest is not None and latest.pk == note.pk


def differs_from_record(note: Assessment) -> bool:
    """Whether a released note puts the student at another level or unit than the record does."""
    student = note.student
    is_other = (note.level, note.unit) != (student.level, student.unit)
    return note.state == NoteState.RELEASED and is_other
