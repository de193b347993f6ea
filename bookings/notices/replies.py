"""Emails about answers of calendars and requests to move."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.policy import cancel_by
from bookings.models import Booking, Meeting, MoveRequest, OutboxMessage
from bookings.notices.families import times
from bookings.notices.people import as_taught, instructor_reader, names, readers_of
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import (
    TEACHING,
    called,
    email_text,
    full_time,
    link,
    possessive,
    short_time,
)


def place_stays(
    reader: User, bookings: Sequence[Booking], *, sequence: int, now: datetime
) -> list[OutboxMessage]:
    """A calendar has declined after the deadline: the places stay until the family cancels."""
    meeting = bookings[0].meeting
    until = min(cancel_by(booking.policy.rules(), meeting.starts_at) for booking in bookings)
    stays = (
        f"Your calendar has declined: {named(meeting)}. "
        f"{possessive(names(reader, bookings))} {called(meeting)} is still booked. "
        f"The cancellation deadline was {full_time(until, reader.zone)}."
    )
    late = "A late cancellation is charged. If nobody is coming, please cancel."
    how = f"Cancel the {called(meeting)}: {link('/my-lessons/')}"
    post = MeetingPost(meeting, [reader], now)
    title = f"Still booked: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
    body = email_text(reader.name, [stays, times(meeting, reader), late, how])
    return [post.tell(reader, f"declined:{sequence}", title, body)]


def move_asked(request: MoveRequest, *, now: datetime) -> list[OutboxMessage]:
    """Asks the instructor to accept or refuse a move."""
    booking = request.booking
    meeting, instructor = booking.meeting, instructor_reader(booking.meeting)
    what, start = named(meeting, instructor), short_time(meeting.starts_at, instructor.zone)
    wanted = short_time(request.starts_at, instructor.zone)
    asked = f"{as_taught(booking.student, now)}, asks to move to {wanted}: {what}."
    stands = f"Until you answer, it stays on {start}."
    answer = f"Accept or refuse: {link('/move-requests/')}"
    body = email_text(instructor.name, [asked, stands, answer], changes=TEACHING)
    title = f"Asked to move: {what}, {start}"
    post = MeetingPost(meeting, [instructor], now)
    seconds = f"{int(request.asked_at.timestamp())}:{int(request.starts_at.timestamp())}"
    state_key = f"move-request:{request.pk}:{seconds}"
    return [post.tell(instructor, state_key, title, body)]


def move_refused(request: MoveRequest, *, words: str = "", now: datetime) -> list[OutboxMessage]:
    """A request is refused, with the `words` of who refuses.

    A person whose calendar asked gets a DECLINECOUNTER. The family gets an email where nobody's
    calendar asked, or that person is no longer a reader about the student.
    """
    meeting, readers = request.booking.meeting, readers_of(request.booking.student, now=now)
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
    """A DECLINECOUNTER. The `words` stand in the email and in no calendar file."""
    state_key = f"not-moved:{sequence}:{int(starts_at.timestamp())}:{int(now.timestamp())}"
    post = MeetingPost(meeting, [reader], now)
    return [
        post.decline(
            reader, state_key, *_not_moved(reader, meeting, starts_at, words), sequence=sequence
        )
    ]


def _not_moved(reader: User, meeting: Meeting, starts_at: datetime, words: str) -> tuple[str, str]:
    """The title and the body."""
    wanted = short_time(starts_at, reader.zone)
    stays = (
        f"The {called(meeting)} cannot be moved to {wanted}. It stays as it is: {named(meeting)}."
    )
    said = [f"Why: {words}"] if words else []
    title = f"Not moved: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
    return title, email_text(reader.name, [stays, *said, times(meeting, reader)])
