"""Wrap up a lesson: the register, the note and the next date, all of it or nothing."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.timeline import EPOCH
from bookings.domain.vocabulary import Attendance, NoteState, Standing
from bookings.models import Assessment, Booking, Mark, Meeting, ProposedTimes
from bookings.operations.booking import book_slot
from bookings.operations.booking_state import current_booking
from bookings.operations.locks import hold_teachers, lock_meetings, lock_students
from bookings.operations.note_text import NoteText
from bookings.operations.notes import release_assessment, rewrite_assessment, write_assessment
from bookings.operations.proposed_times import propose_times
from bookings.operations.register import mark_register
from bookings.queries.notes import note_of_meeting


@dataclass(frozen=True, slots=True, kw_only=True)
class NextDate:
    """One start to book, or one to three to propose; neither for now."""

    book: datetime | None = None
    propose: Sequence[datetime] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """That the note is released; `over` and `adopt` as for `release_assessment`."""

    over: int | None = None
    adopt: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WrappedUp:
    """What stands now: the booking, its note if there is one, and what was booked or proposed."""

    booking: Booking
    note: Assessment | None
    booked: Booking | None
    proposed: ProposedTimes | None


def wrap_up(
    *,
    actor: User,
    booking: Booking,
    attendance: Attendance | None = None,
    text: NoteText | None = None,
    read_at: datetime | None = None,
    release: Release | None = None,
    next_date: NextDate | None = None,
    now: datetime,
) -> WrappedUp:
    """Marks the register, keeps the note as a draft or releases it, and agrees the next date.

    What is None stays as it is. `read_at` is when the draft that the instructor has read was
    written, None where they saw none. A text that says nothing becomes no draft.

    Refused: "already-ended"; as `mark_register`, with `part` "register"; as the operations of
    notes, with `part` "note"; as `book_slot` and `propose_times`, with `part` "next".
    """
    meeting, current = _locked(booking)
    with _part("register"):
        _mark(actor, meeting, current, attendance, now)
    with _part("note"):
        note = _note(actor, meeting, current, text, read_at, now)
        if release is not None:
            note = _released(actor, note, release, read_at if text is None else None, now)
    with _part("next"):
        booked, proposed = _agree(actor, meeting, current, next_date or NextDate(), now)
    return WrappedUp(booking=current, note=note, booked=booked, proposed=proposed)


def _locked(booking: Booking) -> tuple[Meeting, Booking]:
    """The meeting and the booking, locked in order as a booking of the next date needs."""
    hold_teachers([booking.meeting.instructor_id], [booking.student])
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    lock_students([booking.student_id])
    current = current_booking(booking, version=None)
    if not current.standing == Standing.HELD:
        raise Refused("already-ended", "This booking has ended; there is nothing to wrap up.")
    return meeting, current


@contextmanager
def _part(name: str) -> Iterator[None]:
    """Names the part that refuses: nothing of the others is written either."""
    try:
        yield
    except Refused as refusal:
        data = {**refusal.data, "part": name}
        raise Refused(refusal.code, refusal.detail, **data) from refusal


def _mark(
    actor: User, meeting: Meeting, booking: Booking, attendance: Attendance | None, now: datetime
) -> None:
    """Marks the register, unless it says so already: a draft is saved many times."""
    if now < meeting.starts_at:
        raise Refused("not-yet", "A lesson is wrapped up once it has begun.")
    said = Mark.objects.filter(booking=booking).values_list("attendance", flat=True).first()
    if attendance is not None and attendance != said:
        mark_register(actor=actor, meeting=meeting, marks={booking.pk: attendance}, now=now)


def _note(
    actor: User,
    meeting: Meeting,
    booking: Booking,
    text: NoteText | None,
    read_at: datetime | None,
    now: datetime,
) -> Assessment | None:
    note = note_of_meeting(meeting, booking.student_id)
    if text is None or (note is None and text.is_blank):
        return note
    if note is None:
        return write_assessment(
            actor=actor,
            author=meeting.instructor,
            student_id=booking.student_id,
            text=text,
            meeting=meeting,
            now=now,
        )
    if note.state == NoteState.RELEASED:
        raise Refused(
            "already-released",
            "This note has already been released. To change it, write a new version of it.",
        )
    # Who saw no draft has read nothing of this one.
    return rewrite_assessment(actor=actor, note=note, text=text, read_at=read_at or EPOCH, now=now)


def _released(
    actor: User,
    note: Assessment | None,
    release: Release,
    read_at: datetime | None,
    now: datetime,
) -> Assessment:
    if note is None:
        raise Refused(
            "incomplete-note",
            "There is no note to release yet: write it first.",
            fields=["next_steps", "goal"],
        )
    return release_assessment(
        actor=actor,
        note=note,
        read_at=read_at,
        over=release.over,
        adopt=release.adopt,
        now=now,
    )


def _agree(
    actor: User, meeting: Meeting, booking: Booking, next_date: NextDate, now: datetime
) -> tuple[Booking | None, ProposedTimes | None]:
    student, offering, instructor = booking.student, meeting.offering, meeting.instructor
    booked = proposed = None
    if next_date.book is not None:
        booked = book_slot(
            actor=actor,
            student=student,
            offering=offering,
            instructor=instructor,
            starts_at=next_date.book,
            now=now,
        )
    if next_date.propose:
        proposed = propose_times(
            actor=actor,
            student=student,
            offering=offering,
            instructor=instructor,
            starts=next_date.propose,
            now=now,
        )
    return booked, proposed
