"""Instants as people read them, for templates: a 24-hour clock, the month in words, zones by their place.

A template built-in: every template has these filters. All take an aware instant and the IANA name of the reader's zone.
"""

from datetime import UTC, date, datetime

from django import template
from django.forms import BoundField

from bookings.domain.hours import WEEKDAYS
from bookings.domain.zones import place as place_of
from bookings.domain.zones import zone

register = template.Library()

_RANKS = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
)
_ATTENDANCE = {
    "PRESENT": "present",
    "LATE": "late",
    "ABSENT_WITH_NOTICE": "absent, with notice",
    "ABSENT_WITHOUT_NOTICE": "absent, without notice",
    "INSTRUCTOR_ABSENT": "the instructor was absent",
}


@register.filter
def clock(instant: datetime, time_zone: str) -> str:
    """ "12:30"; in an hour that the clocks repeat, with the zone's abbreviation: "01:30 EST"."""
    local = instant.astimezone(zone(time_zone))
    # An instant's own wall time is never in a gap, so two offsets for it mean an hour that is said twice.
    said_twice = local.replace(fold=1 - local.fold).utcoffset() != local.utcoffset()
    return f"{local:%H:%M} {local.tzname()}" if said_twice else f"{local:%H:%M}"


@register.simple_tag
def clock_beside(instant: datetime, there: str, here: str) -> str:
    """ "01:00" on the clock of `there`; "Tuesday 01:00" where it is another day than on the reader's, `here`."""
    told = clock(instant, there)
    if instant.astimezone(zone(there)).date() == instant.astimezone(zone(here)).date():
        return told
    return f"{weekday_of(instant, there)} {told}"


@register.filter
def day(instant: datetime, time_zone: str) -> str:
    """ "Friday 12 March"."""
    local = instant.astimezone(zone(time_zone))
    return f"{local:%A} {local.day} {local:%B}"


@register.filter
def moment(instant: datetime, time_zone: str) -> str:
    """ "Friday 12 March, 12:30"."""
    return f"{day(instant, time_zone)}, {clock(instant, time_zone)}"


@register.filter
def date_in_words(on: date) -> str:
    """ "12 March 2027"."""
    return f"{on.day} {on:%B %Y}"


@register.filter
def day_in_words(on: date) -> str:
    """ "12 March"."""
    return f"{on.day} {on:%B}"


@register.filter
def weekday(number: int) -> str:
    """ "Tuesday" of 1."""
    return WEEKDAYS[number]


@register.filter
def weekday_of(instant: datetime, time_zone: str) -> str:
    """ "Tuesday": the instant's on that clock."""
    return f"{instant.astimezone(zone(time_zone)):%A}"


@register.filter
def place(time_zone: str) -> str:
    """ "New York" of "America/New_York"."""
    return place_of(str(time_zone))


@register.filter
def utc(instant: datetime) -> str:
    """RFC 3339 in UTC, for `datetime` attributes and addresses: "2027-03-12T17:30:00Z"."""
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@register.filter
def ordinal(rank: int) -> str:
    """ "second" of 2; from 11 on "11th"."""
    if rank <= len(_RANKS):
        return _RANKS[rank - 1]
    ending = (
        "th" if rank % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(rank % 10, "th")
    )
    return f"{rank}{ending}"


@register.filter
def words(value: str) -> str:
    """A mark of the register as a screen says it."""
    return _ATTENDANCE.get(value, value)


@register.filter
def of_minutes(minute: int) -> str:
    """ "15:30" of a minute of the day, 930."""
    return f"{minute // 60:02}:{minute % 60:02}"


@register.filter
def kind_of(field: BoundField) -> str:
    """The input type of a form field's widget: "checkbox", "text", empty for a select or a text area."""
    return str(getattr(field.field.widget, "input_type", ""))
