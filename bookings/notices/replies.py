"""What follows from an answer that a calendar mailed: a place that stays, a start asked for, and what became of it."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.policy import cancel_by
from bookings.models import Booking, Meeting, MoveRequest, OutboxMessage
from bookings.notices.families import times
from bookings.notices.people import as_taught, family_of, instructor_of, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import TEACHING, called, full_time, letter, link, short_time, whose


def place_stays(
    reader: User, bookings: Sequence[Booking], *, sequence: int, now: datetime
) -> list[OutboxMessage]:
    """Declined after the cancellation deadline: the place stays booked, and only its family can
    give it back, knowingly.
    """
    meeting = bookings[0].meeting
    until = min(cancel_by(booking.policy.rules(), meeting.starts_at) for booking in bookings)
    stays = (
        f"Your calendar has declined: {named(meeting)}. "
        f"{whose(names(reader, bookings))} {called(meeting)} is still booked. "
        f"The cancellation deadline was {full_time(until, reader.zone)}."
    )
    page = link("/my-lessons/")
    how = f"A late cancellation is charged. If nobody is coming, please cancel here: {page}"
    post = MeetingPost(meeting, [reader], now)
    title = f"Still booked: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
    body = letter(reader.name, [stays, times(meeting, reader), how])
    return [post.tell(reader, f"declined:{sequence}", title, body)]


def move_asked(request: MoveRequest, *, now: datetime) -> list[OutboxMessage]:
    """The instructor decides; nothing has moved yet."""
    booking = request.booking
    meeting, instructor = booking.meeting, instructor_of(booking.meeting)
    wanted = short_time(request.starts_at, instructor.zone)
    asked = f"{as_taught(booking.student, now)}, asks to move to {wanted}: {named(meeting, instructor)}."
    stands = f"Until you answer, it stays on {short_time(meeting.starts_at, instructor.zone)}. Answer here: {link('/move-requests/')}"
    body = letter(instructor.name, [asked, stands], changes=TEACHING)
    title = f"Asked to move: {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}"
    post = MeetingPost(meeting, [instructor], now)
    state_key = f"move-request:{request.pk}:{int(request.asked_at.timestamp())}:{int(request.starts_at.timestamp())}"
    return [post.tell(instructor, state_key, title, body)]


def move_refused(request: MoveRequest, *, words: str = "", now: datetime) -> list[OutboxMessage]:
    """The meeting stays as it is, and why, if she says: to whoever's calendar asked as a DECLINECOUNTER, else to the family.

    To the family too where who asked is not written to about the student any more.
    """
    meeting, readers = request.booking.meeting, family_of(request.booking.student, now=now)
    if request.sequence is not None and request.asked_by in readers:
        return counter_refused(
            request.asked_by,
            meeting,
            starts_at=request.starts_at,
            sequence=request.sequence,
            words=words,
            now=now,
        )
    post = MeetingPost(meeting, readers, now)
    state_key = f"not-moved:{request.pk}:{int(request.asked_at.timestamp())}"
    return [
        post.tell(reader, state_key, *_not_moved(reader, meeting, request.starts_at, words))
        for reader in readers
    ]


def counter_refused(
    reader: User,
    meeting: Meeting,
    *,
    starts_at: datetime,
    sequence: int,
    words: str = "",
    now: datetime,
) -> list[OutboxMessage]:
    """A DECLINECOUNTER: the meeting stays as it is. Her words are in the letter and in no calendar file."""
    state_key = f"not-moved:{sequence}:{int(starts_at.timestamp())}:{int(now.timestamp())}"
    post = MeetingPost(meeting, [reader], now)
    return [
        post.decline(
            reader, state_key, *_not_moved(reader, meeting, starts_at, words), sequence=sequence
        )
    ]


def _not_moved(reader: User, meeting: Meeting, starts_at: datetime, words: str) -> tuple[str, str]:
    """Subject and letter."""
    stays = f"The {called(meeting)} cannot be moved to {short_time(starts_at, reader.zone)}. It stays as it is: {named(meeting)}."
    said = [f"Why: {words}"] if words else []
    title = f"Not moved: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
    return title, letter(reader.name, [stays, *said, times(meeting, reader)])
