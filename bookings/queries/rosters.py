"""Meetings with the people in them, for those who run them."""

from datetime import datetime

from django.db.models import Prefetch, QuerySet

from accounts.models import User
from bookings.domain.zones import zone
from bookings.models import Booking, Meeting
from bookings.queries.waiting import ranked, waiting_in


def run_by(user: User, *, past: bool, now: datetime) -> QuerySet[Meeting]:
    """The meetings somebody runs, an admin all of them, each with its live bookings as `live`.

    From the beginning of today on their clock by start; or those before, the latest first.
    """
    local = now.astimezone(zone(user.zone))
    today = local.replace(hour=0, minute=0, second=0, microsecond=0)
    rows = Meeting.objects.not_proposed()
    if not user.is_staff:
        rows = rows.filter(instructor__user=user, instructor__is_active=True)
    if past:
        return with_people(rows.filter(ends_at__lte=today).order_by("-starts_at", "-id"))
    return with_people(rows.filter(ends_at__gt=today))


def with_people(rows: QuerySet[Meeting]) -> QuerySet[Meeting]:
    """The same meetings, each with its live bookings as `live`, in order of booking."""
    live = (
        Booking.objects.live().select_related("student__user", "mark").order_by("booked_at", "id")
    )
    return rows.select_related("offering", "instructor__user").prefetch_related(
        Prefetch("bookings", queryset=live, to_attr="live")
    )


def roster_of(meeting: Meeting) -> Meeting:
    """One meeting with its live bookings as `live` and those who wait as `queue`, ranked."""
    found = with_people(Meeting.objects.filter(pk=meeting.pk)).get()
    found.queue = list(ranked(waiting_in([found])))  # type: ignore[attr-defined]
    return found
