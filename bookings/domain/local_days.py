"""A date on one clock as a stretch of time, usually of 24 hours."""

from datetime import UTC, date, datetime, time, timedelta

from bookings.domain.instants import instants
from bookings.domain.timeline import Period
from bookings.domain.zones import zone


def midnight(on: date, time_zone: str) -> datetime:
    """The first instant of a date on a clock, in UTC; the end of the gap if midnight is skipped."""
    found = instants(on, 0, time_zone)
    return (
        found[0] if found else datetime.combine(on, time(), tzinfo=zone(time_zone)).astimezone(UTC)
    )


def day_period(on: date, time_zone: str) -> Period:
    """From that midnight to the next: 23 or 25 hours where the clocks change."""
    return Period(midnight(on, time_zone), midnight(on + timedelta(days=1), time_zone))


def overlap(one: Period, other: Period) -> Period | None:
    """What the two have in common; None if they have nothing."""
    if not one.overlaps(other):
        return None
    return Period(max(one.starts_at, other.starts_at), min(one.ends_at, other.ends_at))
