"""What a barred guardian's calendar is told: that meetings of the child leave it, and no more."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from accounts.models import User
from bookings.calendars.invitations import cancel
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.families import invited
from bookings.notices.people import names
from bookings.notices.rows import MeetingPost, event_of, named, party
from bookings.notices.wording import email_text, have
from bookings.outbox.mailboxes import organizer


def guardian_barred(
    reader: User,
    *,
    out: Iterable[Meeting],
    again: Mapping[Meeting, Sequence[Booking]],
    now: datetime,
) -> list[OutboxMessage]:
    """A bare CANCEL for each meeting of `out`, which stands in the reader's calendar.

    It gives no reason and names nobody. `again` are meetings in which other children of theirs
    have the places given there: their invitation has not left, and is written anew.
    """
    messages = [_bare_cancel(meeting, reader, now) for meeting in out]
    for meeting, places in again.items():
        opening = f"{have(names(reader, places))} a place: {named(meeting)}."
        post = MeetingPost(meeting, [reader], now)
        partstat = places[0].partstat
        messages += invited(
            post, reader, places, title="Booked", opening=opening, partstat=partstat
        )
    return messages


def _bare_cancel(meeting: Meeting, reader: User, now: datetime) -> OutboxMessage:
    post = MeetingPost(meeting, [reader], now)
    body = email_text(
        reader.name, ["The attached entry in your calendar is cancelled."], changes=""
    )
    message = post.cancel(
        reader, "An entry in your calendar is cancelled", body, whole=False, state_key="barred"
    )
    event = event_of(meeting, reader, sequence=message.sequence or 0, stamp=now)
    bare = replace(event, summary="Cancelled", description="")
    message.calendar = cancel(bare, organizer(meeting, reader.pk), party(reader), False).decode()
    return message
