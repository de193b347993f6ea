"""Assessments: write one, change it, release it."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import Max

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.access import access_assessment, not_there, require_assessor
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import NoteState
from bookings.domain.zones import zone
from bookings.models import Assessment, Booking
from bookings.operations.audit import record
from bookings.operations.locks import lock_students

TECHNIQUES = (
    "posture",
    "hand shape",
    "finger closing",
    "placing",
    "tone",
    "damping",
    "levers and pedals",
    "reading",
    "rhythm",
    "memory",
    "ease",
)
"""What a technique consultation looks at. Each gets a band from 1 to 4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteText:
    """What an assessment says. It needs a next step and a goal before it is released."""

    level: int
    unit: int
    heard_on: date | None = None
    bands: Mapping[str, int] = field(default_factory=dict)
    strengths: str = ""
    obstacle: str = ""
    next_step: str = ""
    goal: str = ""
    practice_plan: str = ""
    caution: str = ""
    private_remarks: str = ""


def lock_note(*, author: User, note_id: int) -> Assessment:
    """The author's own note, its student locked, as every change of a note needs.

    Refused("not-found") for a note of somebody else.
    """
    lock_students([access_assessment(author, note_id).student_id])
    return access_assessment(author, note_id)


def write_assessment(
    *, actor: User, author: Instructor, student_id: int, text: NoteText, now: datetime
) -> Assessment:
    """Writes a draft, which only its author sees.

    Refused: "not-found" for a student whom the author does not teach, "invalid" as `_values`.
    """
    require_assessor(actor, author, student_id, now=now)
    student = Student.objects.select_related("user").filter(pk=student_id).first()
    if student is None:
        raise not_there()
    values = _values(author, text, now)
    note = Assessment(student=student, author=author, written_at=now, **values)
    note.save(force_insert=True)
    record(actor=actor, verb="wrote", thing=note, now=now)
    return note


def rewrite_assessment(
    *, actor: User, note: Assessment, text: NoteText, now: datetime
) -> Assessment:
    """Changes a draft. A released note is never changed: its new text becomes a new draft version.

    Refused: "not-found", "invalid", "already-released" where a newer version exists.
    """
    require_assessor(actor, note.author, note.student_id, now=now)
    lock_students([note.student_id])
    current = Assessment.objects.select_related("student__user", "author__user").get(pk=note.pk)
    values = _values(current.author, text, now)
    if all(getattr(current, name) == value for name, value in values.items()):
        return current
    if current.state == NoteState.RELEASED:
        current = _next_version(current)
    for name, value in values.items():
        setattr(current, name, value)
    current.written_at = now
    current.save()
    record(actor=actor, verb="rewrote", thing=current, now=now)
    return current


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
        lineage=note.lineage, version=newest + 1, student=note.student, author=note.author
    )


def release_assessment(
    *, actor: User, note: Assessment, read_at: datetime | None = None, now: datetime
) -> Assessment:
    """Shows the note to the student's family, and gives it to the student's bookings ahead.

    `read_at` is when the text that the author has read was written. Refused: "not-found",
    "already-released", "stale" where the text has changed since, "incomplete-note" with `fields`.
    """
    require_assessor(actor, note.author, note.student_id, now=now)
    lock_students([note.student_id])
    current = Assessment.objects.select_related("student__user", "author__user").get(pk=note.pk)
    if current.state == NoteState.RELEASED:
        raise Refused(
            "already-released",
            "This assessment has already been released; write a new version to change it.",
        )
    if read_at is not None and current.written_at != read_at:
        raise Refused("stale", "The draft has changed since you read it. Read it again.")
    absent = missing_for_release(current)
    if absent:
        raise Refused(
            "incomplete-note",
            "Name the next step and a goal first: they are what the student takes away.",
            fields=absent,
        )
    current.state, current.released_at = NoteState.RELEASED, now
    current.save(update_fields=["state", "released_at"])
    Booking.objects.of(current.student).held().ahead(now).update(assessment=current)
    outbox.take_back_follow_ups(current.author.user_id)
    record(actor=actor, verb="released", thing=current, fields=["state"], now=now)
    outbox.enqueue(notices.assessment_released(current, now=now), now=now)
    return current


def missing_for_release(note: Assessment) -> list[str]:
    """The fields without which the note is not released."""
    return [name for name in ("next_step", "goal") if not getattr(note, name).strip()]


def _values(author: Instructor, text: NoteText, now: datetime) -> dict[str, Any]:
    """The fields of a note. Refused("invalid") for a band or a level that does not exist."""
    unknown = sorted(set(text.bands) - set(TECHNIQUES))
    if unknown or any(not 1 <= band <= 4 for band in text.bands.values()):
        raise Refused(
            "invalid", f"Bands run from 1 to 4 for: {', '.join(TECHNIQUES)}.", field="bands"
        )
    if not 1 <= text.level <= 10:
        raise Refused("invalid", "Levels run from 1 to 10.", field="level")
    today = now.astimezone(zone(author.user.zone)).date()
    if text.heard_on is not None and text.heard_on > today:
        detail = "This date is in the future. Enter the day on which you heard the student."
        raise Refused("invalid", detail, field="heard_on")
    values = asdict(text)
    values["heard_on"] = text.heard_on or today
    values["bands"] = dict(text.bands)
    return values
