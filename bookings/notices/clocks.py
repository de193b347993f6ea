"""What was written ahead for somebody, told anew: their clock shows another zone, or others answer for a student."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, OutboxMessage
from bookings.notices.families import reminders
from bookings.notices.people import by_reader, of_age_later
from bookings.notices.rows import MeetingPost
from bookings.notices.waiting import offer_reminders
from bookings.notices.weekly import Taken, shifts_ahead


def clock_changed(
    reader: User, bookings: Sequence[Booking], *, told_on: str, now: datetime
) -> list[OutboxMessage]:
    """Reminders of meetings and offers, and shifts of weekly places, in the states that were told already.

    `bookings` are the live ones of her people, those of weekly places from the beginning, by start; `told_on` is the zone
    that her clock showed before.
    """
    hers = {**of_age_later(bookings, now), **by_reader(bookings, now)}.get(reader, [])
    ahead = [booking for booking in hers if booking.starts_at > now]
    messages: list[OutboxMessage] = []
    meetings = {
        booking.meeting_id: booking.meeting
        for booking in ahead
        if booking.standing == Standing.HELD
    }
    for meeting in meetings.values():
        held = [
            booking
            for booking in ahead
            if booking.meeting_id == meeting.pk and booking.standing == Standing.HELD
        ]
        messages += reminders(MeetingPost(meeting, [reader], now, told_on=told_on), reader, held)
    for booking in ahead:
        if booking.standing == Standing.OFFERED:
            messages += offer_reminders(booking, reader, told_on=told_on, now=now)
    places = {booking.meeting.weekly_place_id: booking.meeting.weekly_place for booking in ahead}
    for place in filter(None, places.values()):
        # One that was moved by itself is no shift of the clocks.
        weekly = [
            booking
            for booking in hers
            if booking.meeting.weekly_place_id == place.pk and _is_usual(booking)
        ]
        messages += shifts_ahead(Taken(place, weekly), reader, now, told_on=told_on)
    return messages


def _is_usual(booking: Booking) -> bool:
    meeting, place = booking.meeting, booking.meeting.weekly_place
    usual = place is not None and (place.weekday, place.wall_at, place.zone)
    return usual == (
        meeting.wall_on.weekday(),
        meeting.wall_at.hour * 60 + meeting.wall_at.minute,
        meeting.zone,
    )
