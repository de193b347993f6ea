"""Wrap up a group meeting: one register, and one short note that each who came gets as their own.

A note is released to one student and names nobody else: it says what the instructor wrote.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import CAME, Attendance, NoteForm
from bookings.models import Assessment, Booking, Meeting
from bookings.operations.locks import lock_meetings, lock_students
from bookings.operations.note_text import NoteText
from bookings.operations.notes import (
    release_assessment,
    rewrite_assessment,
    write_assessment,
)
from bookings.operations.register import mark_register
from bookings.queries.group_notes import GroupNotes, group_notes_of, members_of


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupText:
    """What everybody who came is told alike, and a goal for one student, by booking."""

    heard: Sequence[str] = ()
    next_steps: Sequence[str] = ()
    goals: Mapping[int, str] = field(default_factory=dict)

    def for_one(self, booking: Booking) -> NoteText:
        """The whole note of one student."""
        return NoteText(
            form=NoteForm.LESSON_NOTE,
            heard=self.heard,
            next_steps=self.next_steps,
            goal=self.goals.get(booking.pk, ""),
        )


def wrap_up_group(
    *,
    actor: User,
    meeting: Meeting,
    came: Mapping[int, Attendance],
    text: GroupText | None = None,
    read_at: datetime | None = None,
    marks: bool = True,
    now: datetime,
) -> GroupNotes:
    """Marks the register as `came` says, by booking, and keeps a draft for each who came.

    Without `marks` the register stays as it is. `read_at` is when the latest of the notes was
    written that the instructor has read, None where they saw none. A student with a note of their
    own keeps it. Refused: "already-ended", "not-yet", "stale" where somebody of `came` has no place
    any more or the notes have changed since `read_at`, and as `write_assessment`.
    """
    current, held = _locked(meeting, now)
    if not came.keys() <= held.keys():
        raise Refused(
            "stale",
            "Somebody on this page no longer has a place in the meeting, so nothing was saved. "
            "Look at the list again, then save.",
        )
    if marks:
        _mark(actor, current, held, came, now)
    if text is not None:
        notes = group_notes_of(current)
        _check_read(notes, read_at)
        present = [held[pk] for pk, attendance in came.items() if attendance in CAME]
        for booking in present:
            if notes.own_note_of(booking) is None:
                draft, said = notes.draft_of(booking), text.for_one(booking)
                _keep(actor, current, booking, draft, said, now)
    return group_notes_of(current)


def release_group(
    *,
    actor: User,
    meeting: Meeting,
    shown: Collection[int],
    over: Mapping[int, int],
    read_at: datetime | None,
    now: datetime,
) -> list[Assessment]:
    """Releases the drafts of all who came, to each their own, or none of them.

    `shown` are the bookings of whom the instructor was told that they get one; `over` is as for
    `release_assessment`, by booking. Refused: "stale" where others would get one now or the notes
    have changed since `read_at`, "incomplete-note" where nobody would, and as `release_assessment`.
    """
    current, held = _locked(meeting, now)
    notes = group_notes_of(current)
    _check_read(notes, read_at)
    drafts = notes.to_release(held.values())
    if drafts.keys() != set(shown):
        raise Refused(
            "stale",
            "The list of those who get a note has changed since you opened this page, so nothing "
            "was released. Look at it again.",
        )
    if not drafts:
        raise Refused("incomplete-note", "There is no note to release yet: write it first.")
    return [_release(actor, note, over.get(pk), now) for pk, note in drafts.items()]


def _locked(meeting: Meeting, now: datetime) -> tuple[Meeting, dict[int, Booking]]:
    """The meeting and its held bookings by id, their students locked."""
    current = lock_meetings([meeting.pk])[meeting.pk]
    if current.is_cancelled:
        raise Refused("already-ended", "This meeting was called off; nobody came.")
    if now < current.starts_at:
        raise Refused("not-yet", "A meeting is wrapped up once it has begun.")
    held = {row.pk: row for row in members_of(current)}
    lock_students([row.student_id for row in held.values()])
    return current, held


def _mark(
    actor: User,
    meeting: Meeting,
    held: Mapping[int, Booking],
    came: Mapping[int, Attendance],
    now: datetime,
) -> None:
    stored = {pk: row.mark.attendance for pk, row in held.items() if hasattr(row, "mark")}
    changed = {pk: said for pk, said in came.items() if stored.get(pk) != said}
    if changed:
        mark_register(actor=actor, meeting=meeting, marks=changed, now=now)


def _check_read(notes: GroupNotes, read_at: datetime | None) -> None:
    if notes.written_at != read_at:
        raise Refused(
            "stale",
            "A note about this meeting was saved in another window after you opened it here. "
            "Look at it again before you go on.",
        )


def _keep(
    actor: User,
    meeting: Meeting,
    booking: Booking,
    draft: Assessment | None,
    text: NoteText,
    now: datetime,
) -> None:
    if draft is not None:
        rewrite_assessment(actor=actor, note=draft, text=text, now=now)
    elif not text.is_blank:
        write_assessment(
            actor=actor,
            author=meeting.instructor,
            student_id=booking.student_id,
            text=text,
            meeting=meeting,
            now=now,
        )


def _release(actor: User, note: Assessment, over: int | None, now: datetime) -> Assessment:
    """A refusal says whose note it is about."""
    try:
        return release_assessment(actor=actor, note=note, over=over, now=now)
    except Refused as refusal:
        said = f"{note.student.first_name}’s note: {refusal.detail} Nothing was released."
        raise Refused(refusal.code, said, **refusal.data) from refusal
