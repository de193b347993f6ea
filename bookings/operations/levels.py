"""A student's level and unit on record, set to those of a released assessment by its author."""

from datetime import datetime

from accounts.models import Student, User
from bookings.access import require_assessor
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.queries.notes import is_latest


def adopt_level(
    *, actor: User, note: Assessment, seen: tuple[int, int] | None = None, now: datetime
) -> Student:
    """Sets the record to the level and unit of the latest released assessment. Sends no email.

    `seen` is the level and unit on record that the instructor was shown. Refused: "not-yet" for a
    draft, "newer-assessment", "stale" where the record differs from `seen`, "already-done" where it
    has the same level and unit.
    """
    require_assessor(actor, note.author, note.student_id, now=now)
    student = lock_students([note.student_id])[note.student_id]
    if note.state != NoteState.RELEASED:
        raise Refused("not-yet", "Release the assessment first; then you can change the record.")
    if not is_latest(note):
        raise Refused(
            "newer-assessment",
            "A newer assessment of this student has been released. "
            "Only that one can change the record.",
        )
    if seen is not None and seen != (student.level, student.unit):
        raise Refused(
            "stale", "The record has changed since you read it. Read it again, then decide."
        )
    if (student.level, student.unit) == (note.level, note.unit):
        raise Refused("already-done", "The record says this level and unit already.")
    set_level(actor=actor, student=student, note=note, now=now)
    return student


def set_level(*, actor: User, student: Student, note: Assessment, now: datetime) -> None:
    """Sets the record of a locked student to what the note says, unless it says so already."""
    if (student.level, student.unit) == (note.level, note.unit):
        return
    student.level, student.unit = note.level, note.unit
    student.save(update_fields=["level", "unit"])
    record(actor=actor, verb="moved level", thing=student, fields=["level", "unit"], now=now)
