"""Emails about the order of players in a masterclass: one to each family of players."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.planning.agenda import Early
from bookings.domain.ranks import in_words
from bookings.domain.vocabulary import PartStat, Standing
from bookings.domain.zones import place, zone
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.families import reminders, times, what_to_know
from bookings.notices.meetings import meeting_changed
from bookings.notices.people import by_reader
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import email_text, link, short_time

_AGAIN = "If the order changes, you get another email."


def agenda_published(
    meeting: Meeting, begins: Mapping[Booking, datetime], *, ends_at: datetime, now: datetime
) -> list[OutboxMessage]:
    """Tells each reader when theirs play. `begins` has the start of each player's turn, in the
    order published; `ends_at` is the end of the meeting by that order.
    """
    readers = by_reader(begins, now)
    post = MeetingPost(meeting, readers, now)
    messages = []
    for reader, theirs in readers.items():
        title, paragraphs = _order(meeting, reader, [(row, begins[row]) for row in theirs])
        end = f"The meeting ends about {_clock(ends_at, reader)}. {_AGAIN}"
        body = email_text(reader.name, [*paragraphs, end, _whole(meeting)])
        state_key = f"agenda:{meeting.version}"
        messages.append(post.tell(reader, state_key, title, body, good_until=meeting.starts_at))
    return messages


def agenda_lengthens(
    meeting: Meeting,
    begins: Mapping[Booking, datetime],
    bookings: Iterable[Booking],
    *,
    now: datetime,
) -> list[OutboxMessage]:
    """The same where the order has made the meeting longer: a changed invitation for each.

    `bookings` are all places in it. Whoever has no player in it reads of the change alone.
    """
    held = [booking for booking in bookings if booking.standing == Standing.HELD]
    playing, everyone = by_reader(begins, now), by_reader(held, now)
    post = MeetingPost(meeting, playing, now)
    messages: list[OutboxMessage] = []
    for reader, theirs in playing.items():
        title, paragraphs = _order(meeting, reader, [(row, begins[row]) for row in theirs])
        longer = "The meeting is longer now, so that everybody has their turn:"
        told = [*paragraphs, longer, times(meeting, reader), _AGAIN, _whole(meeting)]
        told += what_to_know(meeting, reader, everyone[reader], now)
        body = email_text(reader.name, told)
        messages.append(post.invite(reader, title, body, partstat=PartStat.NEEDS_ACTION))
        messages += reminders(post, reader, everyone[reader])
    told_ids = {reader.pk for reader in playing}
    changed = meeting_changed(meeting, held, now=now)
    return messages + [row for row in changed if row.recipient_id not in told_ids]


def _order(
    meeting: Meeting, reader: User, turns: Sequence[tuple[Booking, datetime]]
) -> tuple[str, list[str]]:
    """The title and the first paragraphs: when theirs play, and what."""
    start = short_time(meeting.starts_at, reader.zone)
    plays = [_plays(booking, begins, reader) for booking, begins in turns]
    title = f"{plays[0].partition('.')[0]}: {named(meeting)}, {start}"
    opening = f"The order of players is set: {named(meeting)}, {start}."
    return title, [opening, "\n".join(plays)]


def _whole(meeting: Meeting) -> str:
    return f"The whole order: {link(f'/meetings/{meeting.pk}/agenda/')}"


def _plays(booking: Booking, begins: datetime, reader: User) -> str:
    """ "You play second, about 15:20 (New York)." with why that early, if it is so, and the piece
    that the family has named.
    """
    is_own = booking.student.user_id == reader.pk
    who = "You play" if is_own else f"{booking.student.first_name} plays"
    told = f"{who} {in_words(booking.turn or 1)}, about {_clock(begins, reader)}."
    why = f" {Early(booking.turn_early).sentence}" if booking.turn_early else ""
    intake = getattr(booking, "intake", None)
    pieces = " ".join(intake.pieces.split()) if intake else ""
    brings = f" {'You bring' if is_own else 'What they bring'}: {pieces}" if pieces else ""
    return told + why + brings


def _clock(instant: datetime, reader: User) -> str:
    return f"{instant.astimezone(zone(reader.zone)):%H:%M} ({place(reader.zone)})"
