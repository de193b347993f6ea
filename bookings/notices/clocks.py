"""Reminders and shifts written again, for another zone of their reader or for other readers."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Meeting, OutboxMessage, WeeklyPlace
from bookings.notices.families import reminders
from bookings.notices.people import by_reader, of_age_later
from bookings.notices.rows import MeetingPost
from bookings.notices.shifts import shifts_ahead
from bookings.notices.waiting import offer_reminders
from bookings.notices.weekly_places import Taken


def clock_changed(
    reader: User, bookings: Sequence[Booking], *, told_on: str, now: datetime
) -> list[OutboxMessage]:
    """Reminders of meetings and offers, and shifts of weekly places, for one reader.

    `bookings` are the live ones of the reader's students by start, for weekly places from the
    beginning. `told_on` is the zone of the reader's older emails.
    """
    readers = {**of_age_later(bookings, now), **by_reader(bookings, now)}
    theirs = readers.get(reader, [])
    ahead = [booking for booking in theirs if booking.starts_at > now]
    messages: list[OutboxMessage] = []
    for meeting, held in _held_by_meeting(ahead).items():
        messages += reminders(MeetingPost(meeting, [reader], now, told_on=told_on), reader, held)
    for booking in ahead:
        if booking.standing == Standing.OFFERED:
            messages += offer_reminders(booking, reader, told_on=told_on, now=now)
    places = {booking.meeting.weekly_place_id: booking.meeting.weekly_place for booking in ahead}
    for place in filter(None, places.values()):
        # A lesson that was moved by itself is no shift of the clocks.
        weekly = [booking for booking in theirs if _is_at_usual_time(booking, place)]
        messages += shifts_ahead(Taken(place, weekly), reader, now, told_on=told_on)
    return messages


def _held_by_meeting(bookings: Sequence[Booking]) -> dict[Meeting, list[Booking]]:
    meetings: dict[Meeting, list[Booking]] = {}
    for booking in bookings:
        if booking.standing == Standing.HELD:
            meetings.setdefault(booking.meeting, []).append(booking)
    return meetings


def _is_at_usual_time(booking: Booking, place: WeeklyPlace) -> bool:
    """Whether the booking is a lesson of this weekly place at the place's own time."""
    meeting = booking.meeting
    wall_at = meeting.wall_at.hour * 60 + meeting.wall_at.minute
    time = (meeting.weekly_place_id, meeting.wall_on.weekday(), wall_at, meeting.zone)
    return time == (place.pk, place.weekday, place.wall_at, place.zone)
