"""What every chapter of the golden emails shares."""

from collections.abc import Iterator
from datetime import timedelta

from bookings.domain.vocabulary import Ended, Standing
from bookings.models import (
    Booking,
    OutboxMessage,
)
from tests.cast import NOW

Told = Iterator[tuple[str, list[OutboxMessage]]]

LATER = NOW + timedelta(hours=6)

SECRET = "Zk3vN0c8yT5rQ1wXbE7hJ2mLpA9sDfGuI4oRtY6eWqU"

MONDAYS = [
    "2027-03-08T18:00Z",
    "2027-03-15T18:00Z",
    "2027-03-22T18:00Z",
    "2027-03-29T17:00Z",
    "2027-04-05T17:00Z",
]


def end(booking: Booking, why: Ended, *, whole: bool = False) -> Booking:
    """The booking as an operation leaves it."""
    meeting = booking.meeting
    booking.standing, booking.ended_at, booking.ended_why = Standing.ENDED, LATER, why
    booking.save()
    if whole:
        meeting.status, meeting.sequence = "CANCELLED", meeting.sequence + 1
    meeting.taken -= 1
    meeting.save()
    return booking
