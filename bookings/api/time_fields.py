"""Zones, dates, instants and times of day as they come in."""

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from bookings.api.fields import Line
from bookings.domain.errors import Refused
from bookings.domain.instants import instants, resolve, resolve_once
from bookings.domain.timeline import FIRST_ON, LAST_ON
from bookings.domain.typed_hours import read_clock
from bookings.domain.zones import is_known

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")  # RFC 5545 section 3.3.10
# RFC 3339 section 5.6, seconds optional, the offset captured.
_INSTANT = re.compile(
    r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d+)?)?([Zz]|[+-]\d\d:[0-5]\d)?", re.ASCII
)
# The same with an offset whose "+" came as a space, as an address brings it.
_LOST_PLUS = re.compile(r"\d{4}-\d\d-\d\d[Tt]\d\d:\d\d(:\d\d(\.\d+)?)? \d\d:\d\d", re.ASCII)
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d|24:00", re.ASCII)


class Zone(Line):
    """The name of an IANA time zone."""

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=60, **options)

    def to_internal_value(self, data: Any) -> str:
        name = super().to_internal_value(data)
        if not is_known(name):
            raise serializers.ValidationError(
                "This is not an IANA time zone: use a name such as Europe/Dublin.", "unknown-zone"
            )
        return name


@extend_schema_field({"type": "string", "format": "date"})
class Day(serializers.DateField):
    """A date, 2000 to 2199, so that no arithmetic on it leaves the calendar."""

    def to_internal_value(self, value: Any) -> date:
        if not isinstance(value, str) or not _DAY.fullmatch(value):
            raise serializers.ValidationError("Write a date as 2027-03-12.")
        day: date = super().to_internal_value(value)
        if not FIRST_ON <= day <= LAST_ON:
            raise serializers.ValidationError("Choose a date between the years 2000 and 2199.")
        return day


@extend_schema_field({"type": "string", "format": "date-time"})
class Instant(serializers.Field):
    """An instant as RFC 3339 with its offset, in UTC once read.

    With `wall` also a wall time without an offset, which `start_instant` reads.
    """

    def __init__(self, *, wall: bool = False, **options: Any) -> None:
        self.wall = wall
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> datetime:
        if isinstance(data, str) and _LOST_PLUS.fullmatch(data):
            raise serializers.ValidationError(
                "An address turns + into a space: write it as %2B, or send the time in UTC with Z."
            )
        found = _INSTANT.fullmatch(data) if isinstance(data, str) else None
        try:
            value = datetime.fromisoformat(data.upper()) if found else None
        except ValueError:
            value = None
        if found is None or value is None:
            raise serializers.ValidationError("Write a time as 2027-03-12T17:30:00Z.")
        if not FIRST_ON <= value.date() <= LAST_ON:
            raise serializers.ValidationError("Choose a time between the years 2000 and 2199.")
        if value.tzinfo is None and not self.wall:
            raise serializers.ValidationError(
                "Send the time with its offset, such as 2027-03-12T17:30:00Z.", "naive-time"
            )
        return value


@extend_schema_field({"type": "string"})
class InstantOrDay(serializers.Field):
    """An instant as RFC 3339 with its offset, or a date.

    A date means the beginning of the reader's local day.
    """

    def to_internal_value(self, data: Any) -> datetime | date:
        if isinstance(data, str) and _DAY.fullmatch(data):
            return Day().to_internal_value(data)
        return Instant().to_internal_value(data)


@extend_schema_field({"type": "string", "pattern": "^(([01][0-9]|2[0-3]):[0-5][0-9]|24:00)$"})
class Clock(serializers.Field):
    """A wall time "HH:MM", 00:00 to 24:00, as minutes of the day."""

    def to_internal_value(self, data: Any) -> int:
        minute = read_clock(data) if isinstance(data, str) and _CLOCK.fullmatch(data) else None
        if minute is None:
            raise serializers.ValidationError(
                "Write a time of day as 15:30; midnight at the end of a day is 24:00."
            )
        return minute

    def to_representation(self, value: int) -> str:
        return f"{value // 60:02}:{value % 60:02}"


def start_instant(starts_at: datetime, time_zone: str | None) -> datetime:
    """The instant (UTC) that was sent: with an offset, or as a wall time of `time_zone`.

    Refused: "naive-time" for a wall time of no zone; "clock-gap" where the zone's clocks jump over
    it; "clock-fold" where they show it twice; "invalid" where the offset sent is not the zone's
    (RFC 9557 section 3.4: inconsistent is not to be guessed at).
    """
    if time_zone is None:
        if starts_at.tzinfo is None:
            raise Refused(
                "naive-time",
                "Send the start with its offset, such as 2027-03-12T17:30:00Z, "
                "or name its time_zone.",
                field="starts_at",
            )
        return starts_at.astimezone(UTC)
    wall = starts_at.replace(tzinfo=None)
    if starts_at.tzinfo is None:
        return resolve_once(wall, time_zone)
    if starts_at not in [resolve(wall, fold, time_zone) for fold in (0, 1)]:
        raise Refused(
            "invalid",
            f"That offset is not the one in {time_zone} at that time: send one of the two.",
            field="starts_at",
        )
    return starts_at.astimezone(UTC)


def day_begins(on: date, time_zone: str) -> datetime:
    """The first instant (UTC) of a local date, even if the clocks jump over midnight."""
    found = (at for minute in range(0, 1440, 5) for at in instants(on, minute, time_zone))
    return next(found, datetime.combine(on, time(), UTC))


def as_instant(value: datetime | date, time_zone: str) -> datetime:
    """What an InstantOrDay means to a reader in that zone."""
    return value.astimezone(UTC) if isinstance(value, datetime) else day_begins(value, time_zone)


@extend_schema_field({"type": "string", "pattern": "^(([01][0-9]|2[0-3]):[0-5][05]|24:00)$"})
class WindowTime(Clock):
    """A wall time on whole five minutes."""


SPAN_DAYS = 62
"""The longest stretch of time one call looks at, in days."""


def check_span(since: datetime, until: datetime) -> None:
    """Refused("end-before-start"), or "invalid" where the stretch is longer than SPAN_DAYS."""
    if until <= since:
        raise Refused("end-before-start", "Choose a `to` after `from`.", field="to")
    if until - since > timedelta(days=SPAN_DAYS):
        raise Refused("invalid", f"Ask for at most {SPAN_DAYS} days at a time.", field="to")
