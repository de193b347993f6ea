"""What a family reads about its places in one meeting: the invitation and its reminders."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.families import is_child
from bookings.domain.policy import cancel_by
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.owed import if_cancelled
from bookings.notices.people import heard_at, hears_from, instructor_reader, names, of_age_later
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import (
    both_clocks,
    called,
    deadline,
    email_text,
    full_time,
    link,
    listed,
    not_certain,
    possessive,
    short_time,
)
from bookings.outbox import MessageKind

_AHEAD = {MessageKind.REMINDER_DAY: "Soon", MessageKind.REMINDER_HOUR: "In an hour"}


def invited(
    post: MeetingPost,
    reader: User,
    bookings: Sequence[Booking],
    *,
    title: str,
    opening: str,
    partstat: str,
) -> list[OutboxMessage]:
    """The meeting for the reader's calendar, told by `opening`, and its reminders."""
    meeting, start = post.meeting, short_time(post.meeting.starts_at, reader.zone)
    invitation = post.invite(
        reader,
        f"{title}: {named(meeting)}, {start}",
        email_text(
            reader.name,
            [
                opening,
                times(meeting, reader),
                *what_to_know(meeting, reader, bookings, post.now),
            ],
        ),
        partstat=partstat,
    )
    return [invitation, *reminders(post, reader, bookings)]


def reminders(post: MeetingPost, reader: User, bookings: Sequence[Booking]) -> list[OutboxMessage]:
    """The reminders of the meeting as it now stands.

    A child with an account gets those that are due once the child is of age.
    """
    readers = {**of_age_later(bookings, post.now), reader: bookings}
    return [message for one, theirs in readers.items() for message in _to_one(post, one, theirs)]


def _to_one(post: MeetingPost, reader: User, bookings: Sequence[Booking]) -> list[OutboxMessage]:
    meeting, start = post.meeting, short_time(post.meeting.starts_at, reader.zone)
    messages = []
    since = hears_from(reader, bookings, post.now)
    for kind, due_at in post.reminder_times(reader, since=since):
        theirs = heard_at(reader, bookings, due_at)
        reminder = (
            f"{possessive(names(reader, theirs))} {called(meeting)} is coming up: {named(meeting)}."
        )
        body = email_text(
            reader.name,
            [
                reminder,
                times(meeting, reader),
                *what_to_know(meeting, reader, theirs, due_at),
            ],
        )
        messages.append(
            post.remind(reader, kind, due_at, f"{_AHEAD[kind]}: {named(meeting)}, {start}", body)
        )
    return messages


def times(meeting: Meeting, reader: User) -> str:
    """The period in the reader's zone, then in the instructor's."""
    instructor = instructor_reader(meeting)
    return both_clocks(meeting, reader, instructor.zone, instructor.get_short_name())


def what_to_know(
    meeting: Meeting, reader: User, bookings: Sequence[Booking], read_at: datetime
) -> list[str]:
    """The room, whether it runs, until when to decline or cancel, and who has to be near, one
    paragraph each.
    """
    in_time = min(cancel_by(booking.policy.rules(), meeting.starts_at) for booking in bookings)
    children = [
        booking.student.first_name
        for booking in bookings
        if is_child(booking.student, meeting.starts_at)
    ]
    told = []
    if meeting.join_address:
        told.append(f"Join here: {meeting.join_address}")
    if meeting.decide_by is not None and read_at < meeting.decide_by:
        told.append(not_certain(meeting, reader.zone))
    told += [_may_decline(row, reader) for row in bookings if may_decline(row, read_at)]
    # Whoever may decline for longer need not know of the earlier deadline.
    if in_time > read_at and any(not may_decline(row, in_time) for row in bookings):
        told.append(f"{deadline(in_time, reader.zone)} {if_cancelled(bookings)}".strip())
    if children:
        told.append(
            "Please stay nearby: a guardian must be within reach of "
            f"{listed(children)} during the {called(meeting)}."
        )
    return told


def may_decline(booking: Booking, at: datetime) -> bool:
    """Whether the school booked or moved it, and the family may still decline it."""
    return booking.decline_by is not None and at < booking.decline_by


def _may_decline(booking: Booking, reader: User) -> str:
    until = full_time(booking.decline_by or booking.starts_at, reader.zone)
    page = link(f"/my-lessons/{booking.pk}/decline/")
    free = f"If this does not suit you, you can decline it free of charge until {until}."
    return f"{free}\nTo decline it: {page}"
