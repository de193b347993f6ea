"""Reads of notes, which are assessments and lesson notes.

Callers that show a text check access first and log the reading.
"""

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Case, Exists, OuterRef, Q, QuerySet, Subquery, When

from accounts.models import Instructor, Student, User
from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment, AssessmentReading, Booking, Meeting

SCHOOLS_READERS = ("instructor", "admin")
"""The relations of readers of whom a family is told; the author is known anyway."""
_MOST_READINGS = 50


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


def latest_by_another(note: Assessment) -> Assessment | None:
    """The student's latest released note, if another instructor wrote it."""
    latest = latest_released(note.student)
    return latest if latest is not None and latest.author_id != note.author_id else None


def differs_from_record(note: Assessment) -> bool:
    """Whether a released note puts the student at another level or unit than the record does."""
    return note.state == NoteState.RELEASED and says_other_level(note)


def says_other_level(note: Assessment) -> bool:
    """Whether a note, released or not, says another level or unit than the record does."""
    return (note.level, note.unit) != (note.student.level, note.student.unit)


def is_released(note_id: int, student: Student) -> bool:
    """Whether this is a released note about the student."""
    return Assessment.objects.released().filter(pk=note_id, student=student).exists()


def is_of_meeting(meeting: Meeting, author: Instructor, student: Student) -> bool:
    """Whether the author teaches this meeting and the student has a place in it."""
    held = Booking.objects.in_meetings([meeting]).of(student).held()
    return meeting.instructor_id == author.pk and held.exists()


def note_of_meeting(meeting: Meeting, student: Student | int) -> Assessment | None:
    """The version that the meeting's instructor wrote last about this student in it, if any."""
    mine = Assessment.objects.filter(meeting=meeting, author=meeting.instructor_id, student=student)
    joined = mine.select_related("author__user", "student__user", "meeting__offering")
    return joined.order_by("-written_at", "-version").first()


def notes_around(booking: Booking) -> tuple[Assessment | None, list[Assessment]]:
    """The note of this booking's meeting, and the last two released ones before it: one query.

    The first is the version that the meeting's instructor wrote last, if any.
    """
    student, author = booking.student_id, booking.meeting.instructor_id
    here = booking.meeting_id, author
    mine = Assessment.objects.filter(meeting=booking.meeting_id, author=author, student=student)
    last = mine.order_by("-written_at", "-version").values("pk")[:1]
    others = history_of(booking.student).exclude(meeting=booking.meeting_id, author=author)
    rows = Assessment.objects.filter(
        Q(pk=Subquery(last)) | Q(pk__in=others.order_by().values("pk"))
    )
    rows = rows.select_related("author__user", "student__user", "meeting__offering")
    is_last = Case(When(pk=Subquery(last), then=0), default=1)
    found = list(rows.order_by(is_last, "-released_at", "-id")[:3])
    own = [note for note in found if (note.meeting_id, note.author_id) == here]
    return next(iter(own), None), [note for note in found if note not in own][:2]


def history_of(student: Student) -> QuerySet[Assessment]:
    """Every released note about the student in its newest released version, the latest first."""
    released = Assessment.objects.released().filter(student=student)
    newer = released.filter(lineage=OuterRef("lineage"), version__gt=OuterRef("version"))
    rows = released.filter(~Exists(newer.order_by()))
    return rows.select_related("author__user", "student__user").order_by("-released_at", "-id")


def readings_of(notes: Iterable[Assessment]) -> dict[int, list[AssessmentReading]]:
    """Who of the school has read these notes, the latest reading first, by the note's id.

    At most 50 a note.
    """
    rows = AssessmentReading.objects.filter(
        assessment__in=[note.pk for note in notes], relation__in=SCHOOLS_READERS
    )
    found: dict[int, list[AssessmentReading]] = defaultdict(list)
    for row in rows.select_related("reader").order_by("-id"):
        if len(found[row.assessment_id]) < _MOST_READINGS:
            found[row.assessment_id].append(row)
    return dict(found)
