"""Notes, which are assessments and lesson notes: write one, change it, release it."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import Max

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.access import access_assessment, not_there, require_assessor
from bookings.domain import notes as rules
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import NoteForm, NoteState
from bookings.models import Assessment, Booking, Meeting
from bookings.operations.audit import record
from bookings.operations.levels import set_level
from bookings.operations.locks import lock_students
from bookings.operations.note_text import NoteText, values_of
from bookings.queries.notes import is_of_meeting, is_released, latest_by_another
from bookings.queries.suggested_starts import suggested_starts


def lock_note(*, author: User, note_id: int) -> Assessment:
    """The author's own note, its student locked, as every change of a note needs.

    Refused("not-found") for a note of somebody else.
    """
    lock_students([access_assessment(author, note_id).student_id])
    return access_assessment(author, note_id)


def write_assessment(
    *,
    actor: User,
    author: Instructor,
    student_id: int,
    text: NoteText,
    meeting: Meeting | None = None,
    now: datetime,
) -> Assessment:
    """Writes a draft, which only its author sees. `meeting` is the one it was heard in.

    Refused: "not-found" for a student of whom the author may not write, "invalid" as `values_of`
    and for a meeting that is not the author's with this student.
    """
    require_assessor(actor, author, student_id, now=now)
    student = Student.objects.select_related("user").filter(pk=student_id).first()
    if student is None:
        raise not_there()
    if meeting is not None and not is_of_meeting(meeting, author, student):
        detail = "Choose a meeting of yours in which this student has a place."
        raise Refused("invalid", detail, field="meeting")
    note = Assessment(student=student, author=author, meeting=meeting)
    _set(note, values_of(note, text, now))
    note.written_at = now
    note.save(force_insert=True)
    record(actor=actor, verb="wrote", thing=note, now=now)
    return note


def rewrite_assessment(
    *,
    actor: User,
    note: Assessment,
    text: NoteText,
    read_at: datetime | None = None,
    now: datetime,
) -> Assessment:
    """Changes a draft. A released note is never changed: its new text becomes a new draft version.

    A text that is there already is not written again. `read_at` is when the text that the author
    began with was written. Refused: "not-found", "invalid", "already-released" where a newer
    version exists, "stale" where the draft has changed since `read_at`.
    """
    require_assessor(actor, note.author, note.student_id, now=now)
    current = _locked(note)
    values = values_of(current, text, now)
    if all(getattr(current, name) == value for name, value in values.items()):
        return current
    if read_at is not None and current.written_at != read_at:
        raise Refused(
            "stale",
            "This note was saved in another window after you opened it here. "
            "Compare the two before you save this text over it.",
        )
    if current.state == NoteState.RELEASED:
        current = _next_version(current)
    _set(current, values)
    current.written_at = now
    current.save()
    record(actor=actor, verb="rewrote", thing=current, now=now)
    return current


def _locked(note: Assessment) -> Assessment:
    """The note as it is stored, its student locked."""
    lock_students([note.student_id])
    joined = ("student__user", "author__user", "meeting__offering")
    return Assessment.objects.select_related(*joined).get(pk=note.pk)


def _next_version(note: Assessment) -> Assessment:
    """An unsaved draft after this version of the note, which must be the newest."""
    versions = Assessment.objects.filter(lineage=note.lineage)
    newest = versions.aggregate(newest=Max("version"))["newest"]
    if newest != note.version:
        raise Refused(
            "already-released",
            "A newer version of this note exists. Change that one.",
            version=newest,
        )
    return Assessment(
        lineage=note.lineage,
        version=newest + 1,
        student=note.student,
        author=note.author,
        meeting=note.meeting,
    )


def release_assessment(
    *,
    actor: User,
    note: Assessment,
    read_at: datetime | None = None,
    over: int | None = None,
    adopt: bool = False,
    now: datetime,
) -> Assessment:
    """Shows the note to the student's family, and gives it to the student's bookings ahead.

    `read_at` is when the text that the author has read was written. `over` is the id of another
    instructor's latest note that the author was shown. With `adopt` the student's record follows
    the note's level and unit. Refused: "not-found", "already-released", "stale" where the text has
    changed since, "incomplete-note" with `fields`, "other-author" as `_check_other_author`.
    """
    require_assessor(actor, note.author, note.student_id, now=now)
    current = _locked(note)
    _check_releasable(current, read_at)
    _check_other_author(current, over)
    current.state, current.released_at = NoteState.RELEASED, now
    current.save(update_fields=["state", "released_at"])
    if adopt:
        set_level(actor=actor, student=current.student, note=current, now=now)
    Booking.objects.of(current.student).held().ahead(now).update(assessment=current)
    outbox.take_back_follow_ups(current.author.user_id)
    record(actor=actor, verb="released", thing=current, fields=["state"], now=now)
    starts = suggested_starts(current, now=now)
    outbox.enqueue(notices.assessment_released(current, starts=starts, now=now), now=now)
    return current


def _check_releasable(note: Assessment, read_at: datetime | None) -> None:
    if note.state == NoteState.RELEASED:
        raise Refused(
            "already-released",
            "This note has already been released; write a new version to change it.",
        )
    if read_at is not None and note.written_at != read_at:
        raise Refused("stale", "The draft has changed since you read it. Read it again.")
    absent = missing_for_release(note)
    if not absent:
        return
    detail = "Name the next step and a goal first: they are what the student takes away."
    if note.form == NoteForm.LESSON_NOTE:
        detail = "Write what you heard, a next step or something to practise first."
    raise Refused("incomplete-note", detail, fields=absent)


def _check_other_author(note: Assessment, over: int | None) -> None:
    """Refuses to release over another instructor's latest note that the author was not shown.

    The refusal has the id `note`, its `author` and the date `heard_on`. "not-found" where
    `over` is no released note about the student.
    """
    latest = latest_by_another(note)
    if over is not None and not is_released(over, note.student):
        raise Refused("not-found", "That id leads to no note of this student.", field="over")
    if latest is None or latest.pk == over:
        return
    on = f"{latest.heard_on.day} {latest.heard_on:%B %Y}"
    raise Refused(
        "other-author",
        f"The latest note of this student is by {latest.author}, heard on {on}. "
        "Yours would come before it. Confirm that you want to release it.",
        note=latest.pk,
        author={"id": latest.author_id, "name": str(latest.author)},
        heard_on=latest.heard_on.isoformat(),
    )


def missing_for_release(note: Assessment) -> list[str]:
    """The fields without which the note is not released."""
    return rules.missing_for_release(
        note.form,
        heard=note.heard,
        next_steps=note.next_steps,
        goal=note.goal,
        has_practice=bool(note.practice),
    )


def _set(note: Assessment, values: Mapping[str, Any]) -> None:
    for name, value in values.items():
        setattr(note, name, value)
