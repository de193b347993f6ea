"""The lesson of a sibling right before or after another lesson, with the same instructor."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from accounts.models import Student
from bookings.models import ONE_ON_ONE, Booking

NEXT_TO = timedelta(minutes=15)
"""Two lessons with at most this gap between them are one after the other for a family."""


def lesson_beside(booking: Booking, *, own: Iterable[Student], now: datetime) -> Booking | None:
    """The lesson ahead of another of the students `own` that is next to this one, as it stood when
    it was read; the later one of two. One query.
    """
    before, after = booking.starts_at - NEXT_TO, booking.ends_at + NEXT_TO
    siblings = [student.pk for student in own if student.pk != booking.student_id]
    lessons = (
        Booking.objects.held()
        .ahead(now)
        .filter(
            student__in=siblings,
            meeting__instructor=booking.meeting.instructor_id,
            meeting__offering__kind__in=ONE_ON_ONE,
            ends_at__gte=before,
            starts_at__lte=after,
        )
    )
    beside = lessons.exclude(starts_at__lt=booking.ends_at, ends_at__gt=booking.starts_at)
    return beside.with_details().order_by("-starts_at").first()


def are_beside(one: Booking, other: Booking) -> bool:
    """Whether two one-on-ones are next to each other, with the same instructor. No query."""
    gap = max(one.starts_at, other.starts_at) - min(one.ends_at, other.ends_at)
    same_instructor = one.meeting.instructor_id == other.meeting.instructor_id
    return same_instructor and timedelta(0) <= gap <= NEXT_TO
