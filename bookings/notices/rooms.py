"""Emails about an instructor's new room: one for each reader, however many lessons it concerns.

One meeting is sent as any change is, as a REQUEST for the calendar. Several are told in one email
without a calendar part, because all VEVENTs of a REQUEST share a UID (RFC 5546 section 3.2.2). The
feed shows them all, and a later change of one has a higher SEQUENCE.
"""

from collections.abc import Collection, Sequence
from datetime import datetime

from accounts.models import Instructor, User
from bookings.domain.rooms import is_template
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.families import invited, reminders
from bookings.notices.people import by_reader, instructor_reader, names
from bookings.notices.rows import MeetingPost, named, row
from bookings.notices.wording import (
    TEACHING,
    called,
    email_text,
    link,
    listed,
    possessive,
    short_time,
)
from bookings.outbox import MessageKind

Unsent = Collection[tuple[int, int]]
"""(reader, meeting), by id, of unsent invitations with the old address."""


def room_changed(
    instructor: Instructor,
    meetings: Sequence[Meeting],
    bookings: Sequence[Booking],
    *,
    unsent: Unsent = (),
    actor: User,
    now: datetime,
) -> list[OutboxMessage]:
    """Tells the readers of these held bookings, and the instructor if another person is `actor`.

    `meetings` are those with the new room, by start.
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
    what = f"{possessive(names(reader, places))} {called(post.meeting)}"
    opening = f"{what} has a new address to join: {named(post.meeting)}."
    return invited(
        post, reader, places, title="New address", opening=opening, partstat=places[0].partstat
    )


def _told(
    instructor: Instructor, reader: User, held: Sequence[Booking], now: datetime
) -> OutboxMessage:
    first = held[0].meeting
    who = instructor_reader(first).name
    meetings = {booking.meeting_id: booking.meeting for booking in held}.values()
    dates = [_line(meeting, reader, held) for meeting in meetings]
    body = [
        *_addresses(instructor, meetings, dates, who),
        "An entry that reached your calendar by email may still show the old address. "
        f"The calendar you subscribe to shows the new one: {link('/calendars/')}",
    ]
    return row(
        reader,
        MessageKind.TOLD,
        _subject(instructor),
        _state(now),
        title=f"A new address for joining {who} online",
        body=email_text(reader.name, body),
        now=now,
        meeting=first,
    )


def _addresses(
    instructor: Instructor, meetings: Collection[Meeting], dates: Sequence[str], who: str
) -> list[str]:
    """The address once for all meetings; in a room that makes one for each, beside its date."""
    if not is_template(instructor.room):
        opening = f"{who} has a new address for joining online. Use it for all of these:"
        return [opening, f"Join here: {instructor.room}", "\n".join(dates)]
    beside = [
        f"{date}\n  Join here: {meeting.join_address}"
        for date, meeting in zip(dates, meetings, strict=True)
    ]
    opening = f"{who} has new addresses for joining online, one for each of these:"
    return [opening, "\n".join(beside)]


def _to_instructor(
    instructor: Instructor, meetings: Sequence[Meeting], now: datetime
) -> OutboxMessage:
    reader, count = instructor.user, len(meetings)
    have = "meeting has" if count == 1 else "meetings have"
    said = f"{count} {have} the new address from now on. Each family gets one email about it."
    if is_template(instructor.room):
        have = "meeting has a new address" if count == 1 else "meetings have new addresses"
        said = f"{count} {have} from now on. Each family gets an email with theirs."
    return row(
        reader,
        MessageKind.TOLD,
        _subject(instructor),
        _state(now),
        title="Your room has a new address",
        body=email_text(reader.name, [f"Your room: {instructor.room}", said], changes=TEACHING),
        now=now,
        meeting=meetings[0],
    )


def _line(meeting: Meeting, reader: User, held: Sequence[Booking]) -> str:
    """ "  Posy: Consultation, Mon 15 March 17:00, New York"; the reader's own has no name."""
    people = names(reader, [booking for booking in held if booking.meeting_id == meeting.pk])
    who = "" if people == ["you"] else f"{listed(people)}: "
    what = named(meeting, instructor_reader(meeting))
    return f"  {who}{what}, {short_time(meeting.starts_at, reader.zone)}"


def _subject(instructor: Instructor) -> str:
    return f"room-of:{instructor.user_id}"


def _state(now: datetime) -> str:
    return f"changed:{now:%Y%m%dT%H%M%S.%f}"
