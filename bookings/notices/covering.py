"""Emails about lessons that substitutes take: one for each family, however many lessons.

A REQUEST has one UID (RFC 5546 section 3.2.2). One lesson is told by its REQUEST. Several are told
together, and each that stands in a calendar is sent there in an email that says no more than that.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import Instructor, User
from bookings.models import Booking, OutboxMessage, SentSequence
from bookings.notices.cover_teachers import to_teachers
from bookings.notices.families import invited, reminders, times, what_to_know
from bookings.notices.people import by_reader, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import email_text, possessive, short_time

SILENCE = "If you do nothing, it takes place with the substitute."
SILENCE_ON_MANY = "If you do nothing, these lessons take place with the substitutes."


@dataclass(frozen=True, slots=True)
class Covered:
    """A lesson as it is now, and the instructor who had it before."""

    booking: Booking
    before: Instructor


def lessons_covered(covered: Sequence[Covered], *, now: datetime) -> list[OutboxMessage]:
    """Tells each family, whoever takes a lesson, and whoever has given one up."""
    in_order = sorted(covered, key=lambda one: one.booking.starts_at)
    before = {one.booking: one.before for one in in_order}
    sent = SentSequence.objects.filter(meeting__in=[one.booking.meeting_id for one in in_order])
    calendars = set(sent.values_list("meeting_id", "recipient_id"))
    readers = by_reader(before, now)
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        if len(theirs) == 1:
            messages += covered_alone(theirs[0], before[theirs[0]], reader, now)
        else:
            messages.append(_several(theirs, before, reader, now))
            for booking in theirs:
                messages += covered_in_calendar(booking, reader, calendars, now)
    return messages + to_teachers(before, readers, calendars, now)


def covered_alone(
    booking: Booking, before: Instructor, reader: User, now: datetime
) -> list[OutboxMessage]:
    """The substitute of one lesson, told by the entry for the calendar."""
    post = MeetingPost(booking.meeting, [reader], now)
    return invited(
        post,
        reader,
        [booking],
        title="Substitute",
        opening=f"{who_teaches(booking, before, reader)} {SILENCE}",
        partstat=booking.partstat,
    )


def who_teaches(booking: Booking, before: Instructor, reader: User) -> str:
    """Who teaches the lesson instead of whom, and that its time stays."""
    whose = possessive(names(reader, [booking]))
    whose = whose[0].lower() + whose[1:] if whose == "Your" else whose
    return (
        f"{booking.meeting.instructor} teaches {whose} lesson instead of {before}: "
        f"{named(booking.meeting)}. The time stays the same."
    )


def _several(
    bookings: Sequence[Booking], before: dict[Booking, Instructor], reader: User, now: datetime
) -> OutboxMessage:
    told = []
    for booking in bookings:
        told += [
            who_teaches(booking, before[booking], reader),
            times(booking.meeting, reader),
            *what_to_know(booking.meeting, reader, [booking], now),
        ]
    told.append(SILENCE_ON_MANY)
    first = bookings[0].meeting
    return MeetingPost(first, [reader], now).tell(
        reader,
        f"covered:{first.sequence}",
        f"Substitutes for {len(bookings)} lessons, from {short_time(first.starts_at, reader.zone)}",
        email_text(reader.name, told),
    )


def covered_in_calendar(
    booking: Booking, reader: User, calendars: set[tuple[int, int]], now: datetime
) -> list[OutboxMessage]:
    """The entry for a calendar that has the lesson, and reminders in any case."""
    meeting = booking.meeting
    post = MeetingPost(meeting, [reader], now)
    ahead = reminders(post, reader, [booking])
    if (meeting.pk, reader.pk) not in calendars:
        return ahead
    whose = possessive(names(reader, [booking]))
    told = f"{whose} lesson is now with {meeting.instructor}. The attached entry says so."
    entry = post.invite(
        reader,
        f"For your calendar: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}",
        email_text(reader.name, [told, times(meeting, reader)]),
        partstat=booking.partstat,
    )
    return [entry, *ahead]
