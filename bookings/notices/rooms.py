"""An instructor's new room: each family reads of it once, however many of their lessons it
concerns.

One meeting goes out as any change of it does, a REQUEST for the calendar. Several are told in one
plain email, for all VEVENTs of a REQUEST share a UID (RFC 5546 section 3.2.2); the feed shows them
all, and each carries its own SEQUENCE from then on.
"""

from collections.abc import Collection, Sequence
from datetime import datetime

from accounts.models import Instructor, User
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.families import invited, reminders
from bookings.notices.people import by_reader, instructor_of, names
from bookings.notices.rows import MeetingPost, named, row
from bookings.notices.wording import TEACHING, called, letter, link, listed, short_time, whose
from bookings.outbox import MessageKind

Unsent = Collection[tuple[int, int]]
"""(reader, meeting), by id, of invitations that have not left yet and hold the old address."""


def room_changed(
    instructor: Instructor,
    meetings: Sequence[Meeting],
    bookings: Sequence[Booking],
    *,
    unsent: Unsent = (),
    actor: User,
    now: datetime,
) -> list[OutboxMessage]:
    """`meetings` as they now stand, by start, and the places held in them. The instructor is told
    where another has changed it.
    """
    messages: list[OutboxMessage] = []
    for reader, held in by_reader(bookings, now).items():
        theirs = {booking.meeting_id: booking.meeting for booking in held}
        is_one = len(theirs) == 1
        if not is_one:
            messages.append(_told(instructor, reader, held, now))
        for meeting in theirs.values():
            places = [booking for booking in held if booking.meeting_id == meeting.pk]
            post = MeetingPost(meeting, [reader], now)
            if is_one or (reader.pk, meeting.pk) in unsent:
                messages += _invited(post, reader, places)
            else:
                messages += reminders(post, reader, places)
    if meetings and actor.pk != instructor.user_id:
        messages.append(_to_instructor(instructor, meetings, now))
    return messages


def _invited(post: MeetingPost, reader: User, places: Sequence[Booking]) -> list[OutboxMessage]:
    what = f"{whose(names(reader, places))} {called(post.meeting)}"
    opening = f"{what} has a new address to join: {named(post.meeting)}."
    return invited(
        post, reader, places, title="New address", opening=opening, partstat=places[0].partstat
    )


def _told(
    instructor: Instructor, reader: User, held: Sequence[Booking], now: datetime
) -> OutboxMessage:
    first = held[0].meeting
    who = instructor_of(first).name
    meetings = {booking.meeting_id: booking.meeting for booking in held}.values()
    dates = [_line(meeting, reader, held) for meeting in meetings]
    body = [
        f"{who} has a new address for joining online. Use it for all of these:",
        f"Join here: {instructor.room}",
        "\n".join(dates),
        "An entry that reached your calendar by email may still show the old address. "
        f"The calendar you subscribe to shows the new one: {link('/calendars/')}",
    ]
    return row(
        reader,
        MessageKind.TOLD,
        _subject(instructor),
        _state(now),
        title=f"A new address for joining {who} online",
        body=letter(reader.name, body),
        now=now,
        meeting=first,
    )


def _to_instructor(
    instructor: Instructor, meetings: Sequence[Meeting], now: datetime
) -> OutboxMessage:
    reader, count = instructor.user, len(meetings)
    have = "meeting has" if count == 1 else "meetings have"
    said = f"{count} {have} the new address from now on. Each family gets one email about it."
    return row(
        reader,
        MessageKind.TOLD,
        _subject(instructor),
        _state(now),
        title="Your room has a new address",
        body=letter(reader.name, [f"Your room: {instructor.room}", said], changes=TEACHING),
        now=now,
        meeting=meetings[0],
    )


def _line(meeting: Meeting, reader: User, held: Sequence[Booking]) -> str:
    """ "  Posy: Consultation, Mon 15 March 17:00, New York"; no name before one's own."""
    people = names(reader, [booking for booking in held if booking.meeting_id == meeting.pk])
    who = "" if people == ["you"] else f"{listed(people)}: "
    what = named(meeting, instructor_of(meeting))
    return f"  {who}{what}, {short_time(meeting.starts_at, reader.zone)}"


def _subject(instructor: Instructor) -> str:
    return f"room-of:{instructor.user_id}"


def _state(now: datetime) -> str:
    return f"changed:{now:%Y%m%dT%H%M%S.%f}"
