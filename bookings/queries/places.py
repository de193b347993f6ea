"""The places of group meetings."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import QuerySet

from accounts.models import User
from bookings.access import own_students
from bookings.models import Booking, Meeting


def live_places(meeting: Meeting) -> QuerySet[Booking]:
    """The places held and offered, with student and register mark, the first booked first."""
    rows = Booking.objects.in_meetings([meeting]).live()
    return rows.select_related("student__user", "mark").order_by("booked_at", "pk")


def held_in(meetings: Collection[Meeting], user: User, *, now: datetime) -> set[int]:
    """The ids of those meetings in which this person, or a student of theirs, holds a place."""
    held = Booking.objects.in_meetings(meetings).held()
    rows = held.filter(student__in=own_students(user, now=now))
    return set(rows.values_list("meeting_id", flat=True))
