"""Hours that an instructor has added on single dates."""

from datetime import datetime

from accounts.models import Instructor
from bookings.domain.zones import zone
from bookings.models import ExtraHours, LoadAllowance
from bookings.queries.teaching import zone_of_hours


def extra_hours_ahead(instructor: Instructor, *, now: datetime) -> list[ExtraHours]:
    """Extra hours from today on, as the instructor's own calendar counts days."""
    today = now.astimezone(zone(zone_of_hours(instructor))).date()
    return list(ExtraHours.objects.filter(instructor=instructor, on__gte=today))


def allowed_ahead(instructor: Instructor, *, now: datetime) -> list[LoadAllowance]:
    """The starts ahead that the instructor has allowed, by time."""
    return list(instructor.load_allowances.filter(starts_at__gt=now))
