"""Emails about the waiting list: an offer of a place, and a place for the first who accepts.

They have no calendar part.
"""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import User
from bookings.domain import policy as rules
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.notices.families import times
from bookings.notices.people import by_reader, hears_from, names, of_age_later
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import email_text, link, listed, not_certain, short_time
from bookings.outbox import MessageKind


def offer_made(booking: Booking, *, now: datetime) -> list[OutboxMessage]:
    """An offer with its answer-by, and its reminders."""
    meeting, answer_by = booking.meeting, booking.answer_by
    if answer_by is None:
        raise ValueError("an offer has an answer-by")
    post = MeetingPost(meeting, [], now)
    # With the version, an offer is sent again after its meeting has moved.
    state_key = f"booking:{booking.pk}:{booking.version}"
    messages = []
    for reader, theirs in by_reader([booking], now).items():
        until = short_time(answer_by, reader.zone)
        whom = listed(names(reader, theirs))
        opening = f"A place has come free and is kept for {whom}: {named(meeting)}."
        asked = f"Say yes or no by {until}. After that it goes to the next in line."
        title = f"A place is offered until {until}: {named(meeting)}"
        certain = not_certain(meeting, reader.zone)
        body = email_text(
            reader.name, [opening, times(meeting, reader), certain, asked, _answer(booking)]
        )
        messages.append(
            post.tell(reader, state_key, title, body, kind=MessageKind.OFFER, good_until=answer_by)
        )
        messages += offer_reminders(booking, reader, told_on=reader.zone, now=now)
    return messages


def offer_reminders(
    booking: Booking, reader: User, *, told_on: str, now: datetime
) -> list[OutboxMessage]:
    """Reminders of an open offer, after half and after three quarters of its time.

    A child with an account gets those that are due once the child is of age. `told_on` is the zone
    of the reader's older emails.
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
    still = (
        f"A place is still kept for {whom}: {named(meeting)}. "
        f"Without an answer by {until} it goes to the next in line."
    )
    body = email_text(reader.name, [still, times(meeting, reader), _answer(booking)])
    messages = []
    for name, due_at in _due_times(booking, answer_by, reader, told_on, now).items():
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
                due_at=due_at,
            )
        )
    return messages


def _answer(booking: Booking) -> str:
    return f"Say yes or no: {link(f'/my-lessons/{booking.pk}/answer/')}"


def _due_times(
    booking: Booking, answer_by: datetime, reader: User, told_on: str, now: datetime
) -> dict[str, datetime]:
    """The reminders that are still to come, by name, each with its instant.

    One may still wait for the morning in the zone of the reader's older emails: it is due now.
    """
    before = rules.offer_reminder_times(booking.booked_at, answer_by, told_on)
    due = rules.offer_reminder_times(booking.booked_at, answer_by, reader.zone)
    since = hears_from(reader, [booking], now)
    if since is not None:
        due = rules.none_before(since, due, answer_by, reader.zone)
    return {
        name: max(due_at, now)
        for name, due_at in due.items()
        if due_at > now or (name in before and before[name] > now)
    }


def place_free(
    meeting: Meeting, place_kind: PlaceKind, waiting: Iterable[WaitingPlace], *, now: datetime
) -> list[OutboxMessage]:
    """A free place close to the start: all who wait are told that the first to accept gets it."""
    post = MeetingPost(meeting, [], now)
    messages = []
    for reader, theirs in by_reader(waiting, now).items():
        place = "A listener place" if place_kind == PlaceKind.LISTENER else "A place"
        opening = (
            f"{place} has come free for {listed(names(reader, theirs))}: {named(meeting)}. "
            "The start is near, so it is not kept for anyone: "
            "everybody on the waiting list gets this email now, and the first to accept gets it."
        )
        start = short_time(meeting.starts_at, reader.zone)
        title = f"A place is free, and the first to accept gets it: {named(meeting)}, {start}"
        body = email_text(
            reader.name,
            [
                opening,
                times(meeting, reader),
                not_certain(meeting, reader.zone),
                f"Take the place: {link(f'/meetings/{meeting.pk}/')}",
            ],
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
