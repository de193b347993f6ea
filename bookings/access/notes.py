"""Who may write on an assessment, and who may read one."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db.models import Q

from accounts.models import Guardianship, Instructor, Student, User
from bookings.access.instructors import instructor_of
from bookings.access.refusals import not_there
from bookings.domain.families import is_child
from bookings.domain.vocabulary import NoteState, Standing
from bookings.models import Assessment, AssessmentQuerySet, Booking, BookingQuerySet

NOTES_STAY = timedelta(days=14)
"""How long after a meeting its instructor may write about it and read the booking's assessment."""


def may_assess(user: User, author: Instructor, student_id: int, *, now: datetime) -> bool:
    """Whether this person may write assessments of this student in the name of `author`.

    The student needs a held booking in a meeting of the author's, ahead or at most 14 days ago, or
    the author as their regular instructor. An admin may always.
    """
    return user.is_staff or _teaches(author, student_id, now)


def may_assess_in(user: User, booking: Booking, *, now: datetime) -> bool:
    """The same for the instructor of this booking; mostly without a query."""
    if booking.standing == Standing.HELD and booking.ends_at > now - NOTES_STAY:
        return True
    return may_assess(user, booking.meeting.instructor, booking.student_id, now=now)


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


def readable_before(booking: Booking, notes: Sequence[Assessment]) -> list[Assessment]:
    """Those of these notes that the booking's instructor reads when they write the next one.

    All, for one who may read the history (`history_relation`); else the booking's own. The booking
    comes from `access_wrap_up`.
    """
    if booking.knows_student:
        return list(notes)
    return [note for note in notes if note.pk == booking.assessment_id]


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
    """In which relation this person may read the note now; None where they may not."""
    return reading_relations(user, [note], now=now).get(note.pk)


def reading_relations(user: User, notes: Iterable[Assessment], *, now: datetime) -> dict[int, str]:
    """In which relation this person may read each of these notes now, by id: four queries at most.

    It is "author", "family", "instructor" or "admin". A family reads released notes only, and
    guardians read until the child is of age. Another instructor reads the note of a booking in a
    meeting of theirs until 14 days after it. A note that they may not read is left out.
    """
    found, others = {}, []
    for note in notes:
        if note.author.user_id == user.pk and note.author.is_active:
            found[note.pk] = "author"
        elif note.state == NoteState.RELEASED:
            others.append(note)
    family = family_among(user, [note.student for note in others], now)
    found |= {note.pk: "family" for note in others if note.student_id in family}
    others = [note for note in others if note.pk not in found]
    reader = instructor_of(user) if others else None
    if reader is not None:
        carried = _meets(reader, now).filter(assessment__in=others).order_by()
        found |= dict.fromkeys(carried.values_list("assessment", flat=True), "instructor")
    if user.is_staff:
        found |= {note.pk: "admin" for note in others if note.pk not in found}
    return found


def history_relation(user: User, student: Student, *, now: datetime) -> str | None:
    """In which relation this person may read every released note about the student; None if not.

    It is "family", "instructor" or "admin". The instructor may write about the student now, and has
    released a note about them before or is their regular instructor: another one reads the note of
    their booking only.
    """
    if family_among(user, [student], now):
        return "family"
    reader = instructor_of(user)
    if reader is not None and knows_student(reader, student) and _teaches(reader, student.pk, now):
        return "instructor"
    return "admin" if user.is_staff else None


def notes_of_instructor(instructor: Instructor | None, *, now: datetime) -> AssessmentQuerySet:
    """The released notes that this instructor, who teaches now, may read; none for None.

    They are those for which `reading_relation` says "author" or "instructor".
    """
    if instructor is None:
        return Assessment.objects.none()
    of_bookings = _meets(instructor, now).filter(assessment__isnull=False).order_by()
    is_open = Q(author=instructor) | Q(pk__in=of_bookings.values("assessment"))
    return Assessment.objects.released().filter(is_open)


def family_among(user: User, students: Iterable[Student], now: datetime) -> set[int]:
    """Those who are this person or, while they are minors, whose guardian this person is."""
    students = list(students)
    children = {student.pk for student in students if is_child(student, now)}
    guarded = Guardianship.objects.answering().filter(guardian=user, student__in=children)
    own = {student.pk for student in students if student.user_id == user.pk}
    return own | set(guarded.order_by().values_list("student", flat=True))
