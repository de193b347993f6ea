"""Starts near the day of a note's follow-up that the student can book."""

from datetime import UTC, date, datetime, timedelta

from bookings.domain.notes import AROUND
from bookings.domain.timeline import EPOCH
from bookings.domain.wall import day_edges
from bookings.domain.zones import zone
from bookings.models import Assessment, Booking
from bookings.queries.slots import slots_for

MOST_STARTS = 3
_DAY = timedelta(days=1)


def suggested_starts(note: Assessment, *, now: datetime) -> list[datetime] | None:
    """Up to three starts with the note's author in the offering of its meeting, in order.

    They lie at most 3 days from the day of the follow-up, on the student's clock, near the time of
    day of that meeting. None where there is nothing to suggest: no follow-up, one that is over, a
    student who has left, or a lesson with the author in those days already.
    """
    if note.follow_up_on is None or not note.student.is_active:
        return None
    since, until = _days_around(note.follow_up_on, note.student.zone)
    held = Booking.objects.of(note.student).held().filter(meeting__instructor=note.author)
    if until <= now or held.filter(starts_at__gte=since, starts_at__lt=until).exists():
        return None
    meeting = note.meeting
    if meeting is None or not (meeting.offering.is_open and meeting.offering.is_one_on_one):
        return []
    wall = datetime.combine(note.follow_up_on, meeting.wall_at, zone(str(meeting.time_zone)))
    found = slots_for(
        offering=meeting.offering,
        student=note.student,
        instructor_id=note.author_id,
        since=since,
        until=until,
        limit=MOST_STARTS,
        nearest_to=wall.astimezone(UTC),
        now=now,
    )
    return sorted(slot.starts_at for slot in found.slots)


def _days_around(on: date, time_zone: str) -> tuple[datetime, datetime]:
    """The first instant of the days around this one on that clock, and the first after them."""
    first, past = on - AROUND - EPOCH.date(), on + AROUND + _DAY - EPOCH.date()
    edges = day_edges(time_zone, first.days, past.days)
    return EPOCH + timedelta(seconds=edges[0]), EPOCH + timedelta(seconds=edges[-1])
