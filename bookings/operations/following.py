"""What follows by itself after a day of meetings: the instructor is asked once for what she has not finished."""

from datetime import datetime

from bookings import notices, outbox
from bookings.models import Booking
from bookings.operations.locks import lock_meetings, lock_students
from bookings.queries.follow_ups import instructors_to_ask, meetings_of_day, unfinished


def ask_to_finish(*, now: datetime) -> None:
    """One message to each instructor on the morning after a day she taught, from 08:00 of her clock, where something is open.

    Marking and releasing wait for the locks, so that what has just been done is not asked for.
    """
    for instructor, day in instructors_to_ask(now).items():
        meetings = meetings_of_day(instructor, day, now)
        if not unfinished(meetings):
            continue
        locked = lock_meetings([meeting.pk for meeting in meetings])
        lock_students(
            Booking.objects.filter(meeting__in=locked).values_list("student_id", flat=True)
        )
        outbox.enqueue(
            notices.to_finish(instructor.user, day, unfinished(meetings), now=now), now=now
        )
