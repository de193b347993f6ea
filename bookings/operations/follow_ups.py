"""The follow-up: the morning after, an instructor is reminded of what is still open."""

from datetime import datetime

from bookings import notices, outbox
from bookings.models import Booking
from bookings.operations.locks import lock_meetings, lock_students
from bookings.queries.follow_ups import instructors_to_ask, meetings_of_day, unfinished


def ask_to_finish(*, now: datetime) -> None:
    """Writes to each instructor, from 08:00 in their zone, who left something open the day before.

    The locks keep out a mark or a release in the same instant, so nobody is reminded of work that
    they have just done.
    """
    for instructor, day in instructors_to_ask(now).items():
        meetings = meetings_of_day(instructor, day, now)
        if not unfinished(meetings):
            continue
        locked = lock_meetings([meeting.pk for meeting in meetings])
        lock_students(Booking.objects.in_meetings(locked).student_ids())
        messages = notices.to_finish(instructor.user, day, unfinished(meetings), now=now)
        outbox.enqueue(messages, now=now)
