"""The waiting list: an offer of a place, and the place that goes to the first yes. Nothing for a calendar."""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import User
from bookings.domain import policy as rules
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.notices.families import times
from bookings.notices.people import by_reader, hears_from, names, of_age_later
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import CHANGES, letter, link, listed, short_time
from bookings.outbox import MessageKind


def offer_made(booking: Booking, *, now: datetime) -> list[OutboxMessage]:
    """The place is kept for her until `answer_by`; where to say yes or no, and nothing in a calendar before she does."""
    meeting, answer_by = booking.meeting, booking.answer_by
    if answer_by is None:
        raise ValueError("an offer says until when it stands")
    post = MeetingPost(meeting, [], now)
    state_key = (
        f"booking:{booking.pk}:{booking.version}"  # an offer whose meeting moves is told again
    )
    messages = []
    for reader, hers in by_reader([booking], now).items():
        until = short_time(answer_by, reader.zone)
        opening = f"A place has come free and is kept for {listed(names(reader, hers))}: {named(meeting)}."
        answer = (
            f"Say yes or no by {until}: {link(CHANGES)}\nAfter that it goes to the next in line."
        )
        title = f"A place is offered until {until}: {named(meeting)}"
        body = letter(reader.name, [opening, times(meeting, reader), answer])
        messages.append(
            post.tell(reader, state_key, title, body, kind=MessageKind.OFFER, good_until=answer_by)
        )
        messages += offer_reminders(booking, reader, told_on=reader.zone, now=now)
    return messages


def offer_reminders(
    booking: Booking, reader: User, *, told_on: str, now: datetime
) -> list[OutboxMessage]:
    """What reminds one reader of an open offer, at half of its life and at its last quarter; `told_on` is the clock she had so far.

    Kept from her calendar as the offer is. They never leave once it has been answered or told anew. A child with an
    account gets those that are due once of age.
    """
    readers = dict.fromkeys([*of_age_later([booking], now), reader])
    return [
        message
        for one in readers
        for message in _reminders_to(booking, one, told_on=told_on, now=now)
    ]


def _reminders_to(
    booking: Booking, reader: User, *, told_on: str, now: datetime
) -> list[OutboxMessage]:
    meeting, answer_by = booking.meeting, booking.answer_by
    if answer_by is None:
        return []
    post = MeetingPost(meeting, [], now)
    until = short_time(answer_by, reader.zone)
    whom = listed(names(reader, [booking]))
    still = f"A place is still kept for {whom}: {named(meeting)}. Without an answer by {until} it goes to the next in line."
    body = letter(
        reader.name, [still, times(meeting, reader), f"Say yes or no here: {link(CHANGES)}"]
    )
    pending = {
        name
        for name, at in rules.offer_reminders(booking.booked_at, answer_by, told_on).items()
        if at > now
    }
    due = rules.offer_reminders(booking.booked_at, answer_by, reader.zone)
    since = hears_from(reader, [booking], now)
    if since is not None:
        due = rules.none_before(since, due, answer_by, reader.zone)
    messages = []
    for name, due_at in due.items():
        if name not in pending and due_at <= now:
            continue
        state_key = f"booking:{booking.pk}:{booking.version}:{name}"
        title = f"Please answer by {until}: {named(meeting)}"
        messages.append(
            post.tell(
                reader,
                state_key,
                title,
                body,
                kind=MessageKind.OFFER_REMINDER,
                good_until=answer_by,
                due_at=max(due_at, now),
            )
        )
    return messages


def place_free(
    meeting: Meeting, place_kind: PlaceKind, waiting: Iterable[WaitingPlace], *, now: datetime
) -> list[OutboxMessage]:
    """So close to the start nobody has a day to answer: all who wait hear at once, and that the first to say yes has the place."""
    post = MeetingPost(meeting, [], now)
    messages = []
    for reader, hers in by_reader(waiting, now).items():
        place = "A listener place" if place_kind == PlaceKind.LISTENER else "A place"
        opening = (
            f"{place} has come free for {listed(names(reader, hers))}: {named(meeting)}. The start is near, so it is not kept for anyone: "
            "everybody on the waiting list gets this email now, and the first to accept gets it."
        )
        title = f"A place is free, and the first to accept gets it: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
        body = letter(
            reader.name,
            [opening, times(meeting, reader), f"Take it here: {link(f'/meetings/{meeting.pk}/')}"],
        )
        state_key = f"free:{place_kind.value}:{now:%Y%m%dT%H%M%S}"
        messages.append(
            post.tell(
                reader,
                state_key,
                title,
                body,
                kind=MessageKind.PLACE_FREE,
                good_until=meeting.starts_at,
            )
        )
    return messages
