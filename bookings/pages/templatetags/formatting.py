"""Template filters that put times, zones and marks into words.

The settings load them for every template. An instant is an aware datetime; a time zone is the
IANA name of the clock to show it on. Clocks have 24 hours. A day more than half a year away is told
with its year.
"""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from secrets import token_hex
from typing import Any

from django import template
from django.forms import BoundField
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from bookings import clock
from bookings.domain.hours import WEEKDAYS
from bookings.domain.ranks import in_words
from bookings.domain.terms import Shift
from bookings.domain.zones import place, zone
from bookings.models import DaysAway

register = template.Library()

_NEAR = timedelta(days=183)
"""Within half a year, a day and its month name only one date."""

_ATTENDANCE = {
    "PRESENT": "present",
    "LATE": "late",
    "ABSENT_WITH_NOTICE": "absent, with notice",
    "ABSENT_WITHOUT_NOTICE": "absent, without notice",
    "INSTRUCTOR_ABSENT": "the instructor was absent",
}


@register.filter
def clock_time(instant: datetime, time_zone: str) -> str:
    """ "12:30"; in an hour that the clocks repeat, with the zone's abbreviation: "01:30 EST"."""
    local = instant.astimezone(zone(time_zone))
    # The wall time of an instant always exists. If it has two offsets, the hour comes twice.
    is_repeated = local.replace(fold=1 - local.fold).utcoffset() != local.utcoffset()
    return f"{local:%H:%M} {local.tzname()}" if is_repeated else f"{local:%H:%M}"


@register.simple_tag
def form_number() -> SafeString:
    """The hidden field of `pages.sent_once`: each form that is shown has a number of its own."""
    return format_html('<input type="hidden" name="form_number" value="{}">', token_hex(16))


@register.simple_tag
def clock_time_beside(instant: datetime, there: str, here: str) -> str:
    """ "01:00" on the clock of `there`, with the weekday if it differs from the one `here`."""
    told = clock_time(instant, there)
    if instant.astimezone(zone(there)).date() == instant.astimezone(zone(here)).date():
        return told
    return f"{weekday_at(instant, there)} {told}"


@register.filter
def weekday_and_day(instant: datetime, time_zone: str) -> str:
    """ "Friday 12 March"."""
    return day_name(instant.astimezone(zone(time_zone)).date())


@register.filter
def day_and_time(instant: datetime, time_zone: str) -> str:
    """ "Friday 12 March, 12:30"."""
    return f"{weekday_and_day(instant, time_zone)}, {clock_time(instant, time_zone)}"


@register.filter
def weekday_at(instant: datetime, time_zone: str) -> str:
    """ "Tuesday": the weekday of an instant on that clock."""
    return f"{instant.astimezone(zone(time_zone)):%A}"


@register.filter
def weekday_name(number: int) -> str:
    """ "Tuesday" of 1; Monday is 0."""
    return WEEKDAYS[number]


@register.filter
def local_date(instant: datetime, time_zone: str) -> str:
    """ "2027-03-12", for addresses: the date of an instant on that clock."""
    return instant.astimezone(zone(time_zone)).date().isoformat()


@register.filter
def day_name(on: date) -> str:
    """ "Friday 12 March" of a date."""
    return f"{on:%A} {short_date(on)}"


@register.filter
def full_day(on: date) -> str:
    """ "Friday 12 March 2027" of a date."""
    return f"{on:%A} {long_date(on)}"


@register.filter
def day_of(instant: datetime, time_zone: str) -> date:
    """The date of an instant on that clock."""
    return instant.astimezone(zone(time_zone)).date()


@register.filter
def long_date(on: date) -> str:
    """ "12 March 2027"."""
    return f"{on.day} {on:%B %Y}"


@register.filter
def short_date(on: date) -> str:
    """ "12 March"; "12 March 2024" of a day that is not near."""
    return f"{on.day} {on:%B}" if abs(on - clock.now().date()) <= _NEAR else long_date(on)


@register.filter
def minute_as_time(minute: int) -> str:
    """ "15:30" of 930, a minute of the day."""
    return f"{minute // 60:02}:{minute % 60:02}"


@register.filter
def away_in_words(away: DaysAway) -> str:
    """ "1 March 2027 to 3 March 2027"; of cleared hours "1 March 2027, 15:30 to 18:00"."""
    first, last = long_date(away.first_on), long_date(away.last_on)
    if away.is_whole_days:
        return first if first == last else f"{first} to {last}"
    since, until = minute_as_time(away.from_minute), minute_as_time(away.to_minute)
    return f"{first}, {since} to {until if first == last else f'{last}, {until}'}"


@register.filter
def hours_and_minutes(minutes: int) -> str:
    """ "12 hours 30 minutes" of 750; "50 minutes"; "1 hour"."""
    parts = [(minutes // 60, "hour"), (minutes % 60, "minute")]
    told = [f"{count} {unit}{'' if count == 1 else 's'}" for count, unit in parts if count]
    return " ".join(told) or "0 minutes"


@register.filter
def hours_short(minutes: int) -> str:
    """ "12:30" of 750 minutes; "0:00"."""
    return f"{minutes // 60}:{minutes % 60:02}"


@register.filter
def minutes_counted(minutes: int) -> str:
    """ "50"; "\N{MINUS SIGN}50" of minutes that are taken back."""
    return f"\N{MINUS SIGN}{-minutes}" if minutes < 0 else str(minutes)


@register.filter
def utc(instant: datetime) -> str:
    """RFC 3339 in UTC, for `datetime` attributes and addresses: "2027-03-12T17:30:00Z"."""
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@register.filter
def clock_changes(shifts: Sequence[Shift]) -> SafeString:
    """A paragraph on the meetings of a weekly place that begin at another hour of the reader's
    clock; nothing where there are none.
    """
    if not shifts:
        return mark_safe("")
    # Formatted once: a page of weekly times has hundreds of these.
    said = " ".join(["From {} it starts at <b>{}</b>, not {}."] * len(shifts))
    told = [part for shift in shifts for part in (short_date(shift.on), shift.after, shift.before)]
    return format_html(f'<p class="shift">{said} The clocks change on different dates.</p>', *told)


@register.filter
def zone_place(time_zone: str) -> str:
    """ "New York" of "America/New_York"."""
    return place(str(time_zone))


@register.filter
def rank_in_words(rank: int) -> str:
    """ "second" of 2; "11th" of 11."""
    return in_words(rank)


@register.filter
def attendance_in_words(attendance: str) -> str:
    """ "absent, with notice" of "ABSENT_WITH_NOTICE"."""
    return _ATTENDANCE.get(attendance, attendance)


@register.filter
def input_type(field: BoundField) -> str:
    """The type of a form field's input, such as "checkbox"; empty for a select or a text area."""
    return str(getattr(field.field.widget, "input_type", ""))


@register.filter
def beside_in(row: Any, answer: Any) -> str:
    """Where a timetable's student has another place in another timetable, in words; empty where it
    is the same place.
    """
    found = next((one for one in answer.rows if one.student == row.student), None)
    if found is None:
        return "without a place"
    return "" if found.place == row.place else str(found.place)
