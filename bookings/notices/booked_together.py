"""Emails about places in several meetings that are booked in one act: one for each reader.

A REQUEST has one UID (RFC 5546 section 3.2.2). One meeting is told by its REQUEST. Several are told
together, and each goes to the calendar in an email that says no more than that.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from accounts.models import User
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.families import invited, reminders, times, what_to_know
from bookings.notices.people import as_taught, by_reader, instructor_reader, names
from bookings.notices.places import heading
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import TEACHING, email_text, have, possessive, short_time

Theirs = Mapping[Meeting, list[Booking]]
"""The places of one reader, by meeting, in the order of their starts."""


def places_booked(bookings: Iterable[Booking], *, now: datetime) -> list[OutboxMessage]:
    """Invites each family to its meetings, and tells each instructor who has been booked."""
    in_order = sorted(bookings, key=lambda one: (one.starts_at, one.meeting_id, one.pk))
    readers = by_reader(in_order, now)
    posts = {
        meeting: MeetingPost(meeting, [*readers, instructor_reader(meeting)], now)
        for meeting in _by_meeting(in_order)
    }
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        messages += _to_family(reader, _by_meeting(theirs), posts, now)
    return messages + _to_instructors(in_order, readers, posts, now)


def _by_meeting(bookings: Iterable[Booking]) -> dict[Meeting, list[Booking]]:
    found: dict[Meeting, list[Booking]] = {}
    for booking in bookings:
        found.setdefault(booking.meeting, []).append(booking)
    return found


def _to_family(
    reader: User, theirs: Theirs, posts: Mapping[Meeting, MeetingPost], now: datetime
) -> list[OutboxMessage]:
    if len(theirs) == 1:
        ((meeting, bookings),) = theirs.items()
        return invited(
            posts[meeting],
            reader,
            bookings,
            title="Booked",
            opening=_has_a_place(reader, bookings),
            partstat=bookings[0].partstat,
        )
    messages = [_told_of_all(reader, theirs, posts, now)]
    for meeting, bookings in theirs.items():
        messages += _for_the_calendar(posts[meeting], reader, bookings)
    return messages


def _has_a_place(reader: User, bookings: Sequence[Booking]) -> str:
    return f"{have(names(reader, bookings))} a place: {named(bookings[0].meeting)}."


def _told_of_all(
    reader: User, theirs: Theirs, posts: Mapping[Meeting, MeetingPost], now: datetime
) -> OutboxMessage:
    """What is the same for every meeting, such as the room, is told once."""
    known = {
        meeting: what_to_know(meeting, reader, bookings, now)
        for meeting, bookings in theirs.items()
    }
    first = next(iter(theirs))
    same = [said for said in known[first] if all(said in told for told in known.values())]
    told = []
    for meeting, bookings in theirs.items():
        own = [said for said in known[meeting] if said not in same]
        told.append("\n".join([_has_a_place(reader, bookings), times(meeting, reader), *own]))
    told += [*same, "One more email for each meeting puts it into your calendar."]
    return posts[first].tell(
        reader,
        f"booked-together:{theirs[first][0].pk}",
        f"Booked: {len(theirs)} meetings, from {short_time(first.starts_at, reader.zone)}",
        email_text(reader.name, told),
    )


def _for_the_calendar(
    post: MeetingPost, reader: User, bookings: Sequence[Booking]
) -> list[OutboxMessage]:
    meeting = post.meeting
    told = f"The attached entry is {possessive(names(reader, bookings))} place in this meeting."
    entry = post.invite(
        reader,
        f"For your calendar: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}",
        email_text(reader.name, [told, times(meeting, reader)]),
        partstat=bookings[0].partstat,
    )
    return [entry, *reminders(post, reader, bookings)]


def _to_instructors(
    bookings: Sequence[Booking],
    readers: Mapping[User, Sequence[Booking]],
    posts: Mapping[Meeting, MeetingPost],
    now: datetime,
) -> list[OutboxMessage]:
    """An instructor of the family has had the email about its places already."""
    taught: dict[User, list[Booking]] = {}
    for booking in bookings:
        instructor = instructor_reader(booking.meeting)
        if booking not in readers.get(instructor, ()):
            taught.setdefault(instructor, []).append(booking)
    return [_told(instructor, theirs, posts, now) for instructor, theirs in taught.items()]


def _told(
    instructor: User,
    bookings: Sequence[Booking],
    posts: Mapping[Meeting, MeetingPost],
    now: datetime,
) -> OutboxMessage:
    told = ["The school has booked places in your meetings:"]
    meetings = _by_meeting(bookings)
    for meeting, theirs in meetings.items():
        starts = short_time(meeting.starts_at, instructor.zone)
        who = [f"  {as_taught(booking.student, now)}" for booking in theirs]
        told.append("\n".join([f"{named(meeting, instructor)}, {starts}", *who]))
    first = next(iter(meetings))
    title = "Places were taken" if len(bookings) > 1 else "A place was taken"
    return posts[first].tell(
        instructor,
        f"booked-together:{bookings[0].pk}",
        heading(title, first, instructor),
        email_text(instructor.name, told, changes=TEACHING),
    )
