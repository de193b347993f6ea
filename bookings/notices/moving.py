"""Emails about a one-on-one that has moved, alone or together with a sibling's."""

from collections.abc import Collection, Sequence
from datetime import datetime

from accounts.models import Instructor, User
from bookings.models import Booking, OutboxMessage
from bookings.notices.families import invited, reminders, times, what_to_know
from bookings.notices.people import as_taught, by_reader, instructor_reader, names
from bookings.notices.places import heading, to_instructor
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import TEACHING, called, email_text, possessive, short_time


def booking_moved(
    booking: Booking, *, old_starts_at: datetime, old_instructor: Instructor, now: datetime
) -> list[OutboxMessage]:
    """A one-on-one at another time or with another instructor: the same calendar entry, changed.

    It is cancelled in the calendar of an old instructor.
    """
    return _moved(booking, old_starts_at, old_instructor, told_already=(), now=now)


def pair_moved(
    pair: Sequence[Booking],
    *,
    old_starts: Sequence[datetime],
    old_instructor: Instructor,
    now: datetime,
) -> list[OutboxMessage]:
    """Two lessons that have moved together: one email tells a reader of both about both.

    `old_starts` are theirs in turn. A REQUEST has one UID (RFC 5546 section 3.2.2), so each new
    time goes to the reader's calendar in an email of its own that says no more than that.
    """
    was = dict(zip(pair, old_starts, strict=True))
    readers = by_reader(sorted(pair, key=lambda booking: booking.starts_at), now)
    of_both = {reader: theirs for reader, theirs in readers.items() if len(theirs) > 1}
    messages = [_told_of_both(reader, theirs, was, now) for reader, theirs in of_both.items()]
    for booking, old_starts_at in was.items():
        messages += _moved(booking, old_starts_at, old_instructor, told_already=of_both, now=now)
    return messages


def _told_of_both(
    reader: User, pair: Sequence[Booking], was: dict[Booking, datetime], now: datetime
) -> OutboxMessage:
    told = []
    for booking in pair:
        told += [
            has_moved(booking, reader, was[booking]),
            times(booking.meeting, reader),
            *what_to_know(booking.meeting, reader, [booking], now),
        ]
    told.append("Two more emails, one for each lesson, put the new times into your calendar.")
    first = pair[0].meeting
    lessons, start = possessive(names(reader, pair)), short_time(first.starts_at, reader.zone)
    return MeetingPost(first, [reader], now).tell(
        reader,
        f"moved-together:{first.sequence}",
        f"Moved: {lessons} lessons, {start}",
        email_text(reader.name, told),
    )


def _moved(
    booking: Booking,
    old_starts_at: datetime,
    old_instructor: Instructor,
    *,
    told_already: Collection[User],
    now: datetime,
) -> list[OutboxMessage]:
    meeting, instructor, before = (
        booking.meeting,
        instructor_reader(booking.meeting),
        old_instructor.user,
    )
    readers = by_reader([booking], now)
    post = MeetingPost(meeting, [*readers, instructor, before], now)
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        if reader in told_already:
            messages += moved_in_calendar(post, booking, reader)
            continue
        opening = has_moved(booking, reader, old_starts_at)
        messages += invited(
            post, reader, theirs, title="Moved", opening=opening, partstat=booking.partstat
        )
    if before not in (instructor, *readers):
        messages.append(_moved_away(post, booking, before, old_starts_at))
    if instructor not in readers:
        was = old_starts_at if before == instructor else None
        messages.append(moved_for_instructor(post, booking, was))
    return messages


def moved_for_instructor(
    post: MeetingPost, booking: Booking, old_starts_at: datetime | None
) -> OutboxMessage:
    """The new time for the instructor's calendar; without an old one the lesson is new to them."""
    meeting, instructor = booking.meeting, instructor_reader(booking.meeting)
    student = as_taught(booking.student, post.now)
    if old_starts_at is not None:
        was = short_time(old_starts_at, instructor.zone)
        told = f"{student}, has moved from {was}: {named(meeting, instructor)}."
    else:
        told = f"{student}, now comes to you: {named(meeting, instructor)}."
    body = to_instructor(booking, instructor, told)
    return post.invite(instructor, heading("Moved", meeting, instructor), body)


def has_moved(booking: Booking, reader: User, old_starts_at: datetime) -> str:
    """From when the lesson has moved, and what it is now."""
    meeting, was = booking.meeting, short_time(old_starts_at, reader.zone)
    return (
        f"{possessive(names(reader, [booking]))} {called(meeting)} has moved from {was}. "
        f"It is now: {named(meeting)}."
    )


def moved_in_calendar(post: MeetingPost, booking: Booking, reader: User) -> list[OutboxMessage]:
    """The new time for the calendar of a reader who is told in another email, and reminders."""
    meeting, start = post.meeting, short_time(post.meeting.starts_at, reader.zone)
    told = (
        f"The attached entry has the new time of {possessive(names(reader, [booking]))} "
        f"{called(meeting)}."
    )
    entry = post.invite(
        reader,
        f"For your calendar: {named(meeting)}, {start}",
        email_text(reader.name, [told, times(meeting, reader)]),
        partstat=booking.partstat,
    )
    return [entry, *reminders(post, reader, [booking])]


def _moved_away(
    post: MeetingPost, booking: Booking, before: User, old_starts_at: datetime
) -> OutboxMessage:
    """The end of the lesson for the instructor who had it before."""
    was = short_time(old_starts_at, before.zone)
    gone = (
        f"{as_taught(booking.student, post.now)}, no longer comes to you on {was}. "
        "Another instructor takes the lesson."
    )
    return post.cancel(
        before,
        f"Moved away: {post.meeting.offering.name}, {was}",
        email_text(before.name, [gone], changes=TEACHING),
        whole=False,
        state_key=f"booking:{booking.pk}:moved:{post.meeting.sequence}",
    )
