"""The email that a meeting with a minimum runs. One that does not is called off like any other."""

from collections.abc import Iterable
from datetime import datetime

from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.families import invited
from bookings.notices.meetings import invited_instructor
from bookings.notices.people import by_reader, instructor_reader, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import called, possessive


def meeting_runs(
    meeting: Meeting, bookings: Iterable[Booking], *, now: datetime
) -> list[OutboxMessage]:
    """The meeting, now CONFIRMED, for everybody who holds a place, with new reminders.

    Nothing that anybody has accepted changes, so each calendar's reply stays.
    """
    instructor = instructor_reader(meeting)
    readers = by_reader([booking for booking in bookings if booking.standing == Standing.HELD], now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        opening = (
            f"{possessive(names(reader, theirs))} {called(meeting)} is certain now and takes "
            f"place: {named(meeting)}."
        )
        messages += invited(
            post, reader, theirs, title="It runs", opening=opening, partstat=theirs[0].partstat
        )
    if instructor not in readers:
        opening = "A meeting you teach is certain now and takes place"
        messages.append(invited_instructor(post, instructor, "It runs", opening))
    return messages
