"""Teaching hours as a calendar file: VAVAILABILITY (RFC 7953).

Written one property at a time: icalendar's Available.new and Availability.new turn local times into
UTC, and a weekly hour would drift with the next clock change.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from uuid import UUID, uuid5

from icalendar import Availability, Available, Calendar, Timezone, vDDDTypes, vRecur

from bookings.calendars.availability import WEEKDAYS
from bookings.calendars.events import PRODID
from bookings.calendars.zones import vtimezone
from bookings.domain.hours import Away, DatedWindow, TeachingTime, WeeklyWindow
from bookings.domain.zones import zone

COVERED_DAYS = 5 * 366
"""How many days of the zone's changes are written out for a week that has no end."""
_NAMES = UUID("5f0a3c1e-6d0f-4b52-9f64-2f2b6f1c7a11")
_MARGIN = timedelta(days=2)


def hours_to_ical(owner: str, teaching: TeachingTime, *, stamp: datetime, name: str) -> bytes:
    """The published hours as a file, the same bytes for the same hours.

    The week and extra hours open a block without end; days away are blocks of priority 1. `owner`
    tells one instructor's components from another's and is not shown. `stamp` (aware) is when the
    hours were last published, and the week begins on that date.
    """
    file = _HoursFile(owner, stamp.astimezone(UTC).replace(microsecond=0))
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.subcomponents = [
        *file.zones(teaching),
        file.open_block(teaching, name),
        *file.days_away(teaching),
    ]
    written: bytes = calendar.to_ical()
    return written


class _HoursFile:
    """Makes the components of one file."""

    def __init__(self, owner: str, stamp: datetime) -> None:
        self._owner = owner
        self._stamp = stamp

    def zones(self, teaching: TeachingTime) -> Iterator[Timezone]:
        """A VTIMEZONE for each zone except UTC, over all dates and `COVERED_DAYS` more."""
        published: list[WeeklyWindow | DatedWindow | Away] = [
            *teaching.weekly,
            *teaching.extra,
            *teaching.away,
        ]
        on = self._stamp.date()
        begins = [window.on for window in teaching.extra] + [
            away.first_on for away in teaching.away
        ]
        ends = [window.on for window in teaching.extra] + [away.last_on for away in teaching.away]
        first = datetime.combine(min([on, *begins]), time(), UTC) - _MARGIN
        last = datetime.combine(max([on, *ends]), time(), UTC) + timedelta(days=COVERED_DAYS)
        for name in sorted({row.time_zone for row in published} - {"UTC"}):
            yield vtimezone(name, first, last)

    def open_block(self, teaching: TeachingTime, name: str) -> Availability:
        """The block without end that the weekly and the extra hours open."""
        block: Availability = self._named(Availability(), "hours")
        block.add("summary", name)
        for weekly in sorted(
            teaching.weekly, key=lambda window: (window.time_zone, window.weekday, window.opens)
        ):
            block.add_component(self._weekly(weekly))
        for extra in sorted(
            teaching.extra, key=lambda window: (window.on, window.opens, window.time_zone)
        ):
            block.add_component(self._available(f"extra:{extra}", extra.on, extra))
        return block

    def days_away(self, teaching: TeachingTime) -> Iterator[Availability]:
        """A closed block of the highest priority for each of the days away."""
        for away in sorted(
            teaching.away,
            key=lambda days: (days.first_on, days.from_minute, days.last_on, days.time_zone),
        ):
            block: Availability = self._named(Availability(), f"away:{away}")
            block["DTSTART"] = _local(away.first_on, away.from_minute, away.time_zone)
            block["DTEND"] = _local(away.last_on, away.to_minute, away.time_zone)
            block.add("priority", 1)
            yield block

    def _weekly(self, window: WeeklyWindow) -> Available:
        today = self._stamp.astimezone(zone(window.time_zone)).date()
        on = today + timedelta(days=(window.weekday - today.weekday()) % 7)
        part = self._available(f"weekly:{window}", on, window)
        part["RRULE"] = vRecur({"FREQ": "WEEKLY", "BYDAY": WEEKDAYS[window.weekday]})
        return part

    def _available(self, key: str, on: date, window: WeeklyWindow | DatedWindow) -> Available:
        part: Available = self._named(Available(), key)
        part["DTSTART"] = _local(on, window.opens, window.time_zone)
        part["DTEND"] = _local(on, window.closes, window.time_zone)
        return part

    def _named(self, part: Any, key: str) -> Any:
        part.add("uid", str(uuid5(_NAMES, f"{self._owner}:{key}")))
        part.add("dtstamp", self._stamp)
        return part


def _local(on: date, minute: int, time_zone: str) -> vDDDTypes:
    wall = datetime.combine(on, time()) + timedelta(minutes=minute)
    return vDDDTypes(wall.replace(tzinfo=zone(time_zone)))
