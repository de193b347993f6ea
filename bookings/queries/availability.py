"""An instructor's published hours as a file, and a file as the hours it would make."""

from datetime import datetime

from accounts.models import Instructor
from bookings.calendars.availability import read_availability
from bookings.calendars.hours_file import hours_to_ical
from bookings.domain.hours import TeachingTime
from bookings.domain.proposals import Proposal, proposal
from bookings.domain.zones import zone
from bookings.queries.teaching import teaching_time, week_of, zone_of_hours


def hours_file(instructor: Instructor, *, now: datetime) -> bytes:
    """The week, and the extra hours and days away from today on (RFC 7953)."""
    published, changed_at = teaching_time(instructor.pk), week_of(instructor).changed_at
    today = now.astimezone(zone(zone_of_hours(instructor))).date()
    ahead = TeachingTime(
        published.weekly,
        tuple(extra for extra in published.extra if extra.on >= today),
        tuple(away for away in published.away if away.last_on >= today),
    )
    stamp = changed_at or now.replace(hour=0, minute=0, second=0, microsecond=0)
    return hours_to_ical(str(instructor.pk), ahead, stamp=stamp, name=f"Hours {instructor} teaches")


def proposal_from(text: str, instructor: Instructor, *, now: datetime) -> Proposal:
    """The hours that the file would give the instructor; nothing is written.

    Refused as in `read_availability`.
    """
    return proposal(read_availability(text), time_zone=zone_of_hours(instructor), now=now)
