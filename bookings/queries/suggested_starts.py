"""Starts near the day of a note's follow-up that the student can book."""

from datetime import datetime

from bookings.domain.start_costs import Listing
from bookings.domain.vocabulary import Night
from bookings.models import Assessment, Booking
from bookings.queries.next_dates import days_around, same_time
from bookings.queries.slots import slots_for

MOST_STARTS = 3


def suggested_starts(note: Assessment, *, now: datetime) -> list[datetime] | None:
    """Up to three starts with the note's author in the offering of its meeting, in order.

    They lie at most 3 days from the day of the follow-up, on the student's clock, near the time of
    day of that meeting. None where there is nothing to suggest: no follow-up, one that is over, a
    student who has left, or a lesson with the author in those days already.
    """
    if note.follow_up_on is None or not note.student.is_active:
        return None
    since, until = days_around(note.follow_up_on, note.student.zone)
    held = Booking.objects.of(note.student).held().filter(meeting__instructor=note.author)
    if until <= now or held.filter(starts_at__gte=since, starts_at__lt=until).exists():
        return None
    meeting = note.meeting
    if meeting is None or not (meeting.offering.is_open and meeting.offering.is_one_on_one):
        return []
    found = slots_for(
        offering=meeting.offering,
        student=note.student,
        instructor_id=note.author_id,
        since=since,
        until=until,
        limit=MOST_STARTS,
        nearest_to=same_time(meeting, note.follow_up_on),
        listing=Listing(Night.LAST),
        now=now,
    )
    return sorted(slot.starts_at for slot in found.slots)
