"""Meetings written many at a time."""

from datetime import datetime, time, timedelta
from typing import Any

from accounts.models import Instructor
from bookings.domain.zones import TZDATA_VERSION, zone
from bookings.models import Meeting, Offering
from tests.cast import NOW


def bare_meeting(
    offering: Offering, teacher: Instructor, starts_at: datetime, **fields: Any
) -> Meeting:
    """A meeting that is not stored yet, with one place taken."""
    wall, ends_at = (
        starts_at.astimezone(zone(teacher.user.zone)),
        starts_at + timedelta(minutes=offering.minutes),
    )
    return Meeting(
        offering=offering,
        instructor=teacher,
        wall_on=wall.date(),
        wall_at=time(wall.hour, wall.minute),
        fold=wall.fold,
        time_zone=zone(teacher.user.zone),
        minutes=offering.minutes,
        starts_at=starts_at,
        ends_at=ends_at,
        held_until=ends_at + timedelta(minutes=5),
        tzdata_version=TZDATA_VERSION,
        made_at=NOW - timedelta(days=400),
        changed_at=NOW - timedelta(days=400),
        join_address=teacher.room,
        taken=1,
        **fields,
    )
