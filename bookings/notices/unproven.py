"""Emails about an answer by email that may not be the family's own. Nothing has changed yet."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.policy import cancel_by
from bookings.models import Booking, OutboxMessage
from bookings.notices.families import times
from bookings.notices.people import names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import (
    called,
    deadline,
    email_text,
    link,
    listed,
    possessive,
    short_time,
)

_NOT_SURE = "We could not make sure that you sent it, so nothing has changed."
_NOT_YOU = "If you did not mean this, you need not do anything."


def cancelling_unproven(
    reader: User, bookings: Sequence[Booking], *, sequence: int, now: datetime
) -> list[OutboxMessage]:
    """An answer declines: a link to cancel. One email for each SEQUENCE."""
    meeting, people = bookings[0].meeting, names(reader, bookings)
    told = (
        f"An email reply has declined: {named(meeting)}. {_NOT_SURE} "
        f"{possessive(people)} {called(meeting)} is still booked."
    )
    page = f"/my-lessons/{bookings[0].pk}/cancel/" if len(bookings) == 1 else "/my-lessons/"
    said = f"{told} If {listed(people)} cannot come, please cancel."
    until = min(cancel_by(booking.policy.rules(), meeting.starts_at) for booking in bookings)
    free = deadline(until, reader.zone) if until >= now else ""
    title = f"Do you want to cancel? {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
    how = f"Cancel the {called(meeting)}: {link(page)}"
    body = email_text(reader.name, [said, times(meeting, reader), how, free, _NOT_YOU])
    post = MeetingPost(meeting, [reader], now)
    return [post.tell(reader, f"unproven:declined:{sequence}", title, body)]


def moving_unproven(
    reader: User, bookings: Sequence[Booking], *, sequence: int, now: datetime
) -> list[OutboxMessage]:
    """An answer asks for another time: a link to ask for one. One email for each SEQUENCE."""
    meeting = bookings[0].meeting
    told = (
        f"An email reply asks for another time: {named(meeting)}. {_NOT_SURE} "
        "If another time suits you better, please ask for it."
    )
    how = f"Ask for another time: {link('/my-lessons/')}"
    title = f"Do you want to move? {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
    body = email_text(reader.name, [told, times(meeting, reader), how, _NOT_YOU])
    post = MeetingPost(meeting, [reader], now)
    return [post.tell(reader, f"unproven:move:{sequence}", title, body)]
