"""How long one entry of a foreign calendar lasts (RFC 5545 sections 3.3.6, 3.6.1 and 3.8.5.3)."""

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from bookings.calendars.content import Component, Line
from bookings.calendars.content_grammar import unreadable
from bookings.domain.zones import zone

_DURATION = re.compile(
    r"([+-]?)P(?:(\d+)W)?(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?", re.ASCII
)


class Length(NamedTuple):
    """A length: `days` are nominal, from a wall time to the same one on another date; `seconds` are
    exact.
    """

    days: int
    seconds: int

    def after(self, starts_at: datetime) -> datetime:
        """The end (UTC) of an entry with this length; `starts_at` carries its zone."""
        return (starts_at + timedelta(days=self.days)).astimezone(UTC) + timedelta(
            seconds=self.seconds
        )


def date_or_instant(line: Line) -> date | datetime:
    """The one value of a line, in the zone of its TZID; a leap second is read as the second
    before.
    """
    text = line.value
    on = date(int(text[:4]), int(text[4:6]), int(text[6:8]))
    if len(text) == 8:
        return on
    at = time(int(text[9:11]), int(text[11:13]), min(int(text[13:15]), 59))
    return datetime.combine(on, at, UTC if text.endswith("Z") else zone(line.parameters["TZID"]))


def is_skipped(at: datetime) -> bool:
    """Whether the clock of `at` jumps over that wall time."""
    wall = at.replace(tzinfo=None)
    return at.astimezone(UTC).astimezone(at.tzinfo).replace(tzinfo=None) != wall


def begins_at(value: date, clock: ZoneInfo) -> datetime:
    """A datetime as it is; for a date, the beginning of that day on the owner's clock."""
    return value if isinstance(value, datetime) else datetime.combine(value, time(), clock)


def length(event: Component) -> Length:
    """The length of an entry: one day for a date alone, none for a time alone.

    Refused("calendar-unreadable") for an entry that ends before it starts.
    """
    starts, ends, lasts = (event.one(name) for name in ("DTSTART", "DTEND", "DURATION"))
    if starts is None:
        raise unreadable("an entry has no start.")
    begins = date_or_instant(starts)
    if lasts is not None:
        found = _duration(lasts.value)
    elif ends is None:
        found = Length(0 if isinstance(begins, datetime) else 1, 0)
    else:
        over = date_or_instant(ends)
        if isinstance(begins, datetime) != isinstance(over, datetime):
            raise unreadable(
                "an entry starts at a time and ends on a date, or the other way round."
            )
        if isinstance(begins, datetime) and isinstance(over, datetime):
            found = Length(0, int(_between(begins, over).total_seconds()))
        else:
            found = Length((over - begins).days, 0)
    if found.days < 0 or found.seconds < 0:
        raise unreadable("an entry ends before it starts.")
    return found


def _between(begins: datetime, over: datetime) -> timedelta:
    """The exact time between the two; the written time if the clock skips one of them.

    A start in a gap is read with the offset before it (section 3.3.5), and an end after the gap is
    not. Exact time would be short by the gap, in the whole series.
    """
    if (is_skipped(begins) or is_skipped(over)) and begins.tzinfo == over.tzinfo:
        return over.replace(tzinfo=None) - begins.replace(tzinfo=None)
    return over.astimezone(UTC) - begins.astimezone(UTC)


def _duration(text: str) -> Length:
    found = _DURATION.fullmatch(text)
    if found is None:
        raise unreadable("a duration is not one.")
    weeks, days, hours, minutes, seconds = (int(number or 0) for number in found.groups()[1:])
    sign = -1 if found[1] == "-" else 1
    return Length(sign * (7 * weeks + days), sign * (3600 * hours + 60 * minutes + seconds))
