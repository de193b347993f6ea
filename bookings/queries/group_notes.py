"""The notes about a group meeting: what everybody who came is told alike, and what one is told.

No row holds the common text. It is what most of the drafts share, so that each student's note
stays a note of their own, which can be changed by itself.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from bookings.domain.vocabulary import CAME, NoteForm, NoteState
from bookings.models import Assessment, Booking, Meeting

_OF_ONE = ("bands", "strengths", "obstacle", "last_goal", "practice", "caution", "private_remarks")
"""What the note of one student says beyond the common text and a goal of their own."""


@dataclass(frozen=True, slots=True)
class GroupNotes:
    """The instructor's last note about each student of a meeting, by the student's id.

    `heard` and `next_steps` are the common text.
    """

    by_student: dict[int, Assessment]
    heard: tuple[str, ...]
    next_steps: tuple[str, ...]

    @property
    def written_at(self) -> datetime | None:
        """When the latest of them was written; None without any."""
        return max((note.written_at for note in self.by_student.values()), default=None)

    def draft_of(self, booking: Booking) -> Assessment | None:
        """The draft that the common text belongs to; None where there is no note."""
        note = self.by_student.get(booking.student_id)
        return note if note is not None and self._is_common(note) else None

    def own_note_of(self, booking: Booking) -> Assessment | None:
        """A note that is released, or was written for this student by itself."""
        note = self.by_student.get(booking.student_id)
        return None if note is None or self._is_common(note) else note

    def to_release(self, bookings: Iterable[Booking]) -> dict[int, Assessment]:
        """The drafts of those who came, by booking."""
        came = [row for row in bookings if hasattr(row, "mark") and row.mark.attendance in CAME]
        drafts = {booking.pk: self.draft_of(booking) for booking in came}
        return {pk: note for pk, note in drafts.items() if note is not None}

    def _is_common(self, note: Assessment) -> bool:
        return _may_be_common(note) and _text(note) == (self.heard, self.next_steps)


def members_of(meeting: Meeting) -> list[Booking]:
    """The held places of a meeting in order of booking, with student and mark: one query."""
    held = Booking.objects.in_meetings([meeting]).held().select_related("student__user", "mark")
    return list(held.order_by("booked_at", "pk"))


def group_notes_of(meeting: Meeting) -> GroupNotes:
    """What the meeting's instructor has written about each student in it: one query."""
    rows = Assessment.objects.filter(meeting=meeting, author=meeting.instructor_id)
    joined = rows.select_related("author__user", "student__user", "meeting__offering")
    by_student = {note.student_id: note for note in joined.order_by("written_at", "version", "pk")}
    texts = Counter(_text(note) for note in by_student.values() if _may_be_common(note))
    heard, next_steps = texts.most_common(1)[0][0] if texts else ((), ())
    return GroupNotes(by_student, heard, next_steps)


def _text(note: Assessment) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return tuple(note.heard), tuple(note.next_steps)


def _may_be_common(note: Assessment) -> bool:
    is_short = note.form == NoteForm.LESSON_NOTE and note.follow_up_weeks is None
    says_more = any(getattr(note, name) for name in _OF_ONE)
    return note.state == NoteState.DRAFT and is_short and not says_more
