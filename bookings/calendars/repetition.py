"""Limits on repetition in a foreign calendar, checked before anything is expanded (RFC 5545 section
3.3.10).

A short line can describe more starts than a machine can hold. So an entry repeats by day, week,
month or year, at an INTERVAL of 1 or more, at most 500 times (COUNT) or until at most five years
ahead (UNTIL). People write "every Monday" without an end: such a rule is expanded only up to the
end of the window, which is nearer. Times within the day (BYHOUR, BYMINUTE, BYSECOND) multiply and
are limited too. Rules that pass and still cost much, such as one that never matches, meet the
limits of the process that expands them.
"""

import re
from datetime import date, datetime, timedelta

from bookings.calendars.content import Component, Line
from bookings.calendars.content_grammar import check_days, too_much, unreadable

MOST_TIMES = 500
MOST_YEARS = 5
MOST_ADDED = 1000
"""Dates that one entry may add or take out by name (RDATE, EXDATE)."""
_MOST_A_DAY = 48
_SLOW = {"DAILY", "WEEKLY", "MONTHLY", "YEARLY"}
_FAST = {"SECONDLY", "MINUTELY", "HOURLY"}
_AHEAD = timedelta(days=366 * MOST_YEARS)
_LONG_AGO = 1900
"""Every year of a repetition costs time, and one that began earlier is a mistake."""
_ZONE_LONG_AGO = 1601
_MOST_ONSETS = 400


def _numbers(low: int, high: int, *, signed: bool = False) -> re.Pattern[str]:
    allowed = "|".join(
        str(number) + "|" + f"0{number}" if number < 10 else str(number)
        for number in range(low, high + 1)
    )
    one = rf"{'[+-]?' if signed else ''}({allowed})"
    return re.compile(rf"{one}(,{one})*", re.ASCII)


_UNTIL = re.compile(r"\d{8}(T([01]\d|2[0-3])[0-5]\d([0-5]\d|60)Z?)?", re.ASCII)
_BY_DAY = r"([+-]?(0?[1-9]|[1-4]\d|5[0-3]))?(MO|TU|WE|TH|FR|SA|SU)"
_PARTS = {
    "FREQ": re.compile("|".join(_SLOW | _FAST)),
    "INTERVAL": re.compile(r"0*[1-9]\d{0,3}", re.ASCII),
    "COUNT": re.compile(r"0*[1-9]\d{0,8}", re.ASCII),
    "UNTIL": _UNTIL,
    "BYSECOND": _numbers(0, 60),
    "BYMINUTE": _numbers(0, 59),
    "BYHOUR": _numbers(0, 23),
    "BYDAY": re.compile(rf"{_BY_DAY}(,{_BY_DAY})*", re.ASCII),
    "BYMONTHDAY": _numbers(1, 31, signed=True),
    "BYYEARDAY": _numbers(1, 366, signed=True),
    "BYWEEKNO": _numbers(1, 53, signed=True),
    "BYMONTH": _numbers(1, 12),
    "BYSETPOS": _numbers(1, 366, signed=True),
    "WKST": re.compile("MO|TU|WE|TH|FR|SA|SU"),
}


def check_event(event: Component, since: datetime) -> None:
    """Refused("calendar-too-much") for an entry beyond the limits, "calendar-unreadable" for a
    broken rule.

    `since` (aware) is the beginning of the window.
    """
    starts = event.one("DTSTART")
    for rule in event.all("RRULE"):
        _check_rule(rule, starts.value if starts else "", since)
    if len(event.all("RRULE")) > 2:
        raise too_much("an entry has more than two rules of repetition.")
    for name in ("RDATE", "EXDATE"):
        if sum(line.value.count(",") + 1 for line in event.all(name)) > MOST_ADDED:
            raise too_much(f"an entry names more than {MOST_ADDED} dates one by one.")


def check_zone(zone: Component) -> None:
    """Refuses like `check_event`, for the rules of a zone that the file defines: yearly only, and
    not too many.
    """
    if len(zone.inner) > _MOST_ONSETS:
        raise too_much("it describes a time zone with more changes of clocks than any has had.")
    for onset in zone.inner:
        starts = onset.one("DTSTART")
        if starts is None or int(starts.value[:4]) < _ZONE_LONG_AGO:
            raise unreadable("a time zone begins before there were any.")
        if sum(line.value.count(",") + 1 for line in onset.all("RDATE")) > _MOST_ONSETS:
            raise too_much("it describes a time zone with more changes of clocks than any has had.")
        for rule in onset.all("RRULE"):
            parts = _parts(rule)
            several = any("," in parts.get(name, "") for name in ("BYHOUR", "BYMINUTE", "BYSECOND"))
            if parts["FREQ"] != "YEARLY" or several:
                raise too_much("a time zone changes its clocks more often than by the year.")


def _check_rule(rule: Line, starts: str, since: datetime) -> None:
    parts = _parts(rule)
    if parts["FREQ"] in _FAST:
        raise too_much(
            "an entry repeats by the hour, minute or second. Repetitions by day, week, month and "
            "year are read."
        )
    if int(parts.get("COUNT", 1)) > MOST_TIMES:
        raise too_much(
            f"an entry repeats more than {MOST_TIMES} times. Let it repeat without an end, or "
            "fewer times."
        )
    if int(starts[:4]) < _LONG_AGO:
        raise too_much(f"a repetition began before {_LONG_AGO}.")
    a_day = 1
    for name in ("BYHOUR", "BYMINUTE", "BYSECOND"):
        a_day *= parts[name].count(",") + 1 if name in parts else 1
    if a_day > _MOST_A_DAY:
        raise too_much(f"an entry repeats more than {_MOST_A_DAY} times a day.")
    if "UNTIL" in parts and _day(parts["UNTIL"]) - max(_day(starts), since.date()) > _AHEAD:
        raise too_much(
            f"an entry repeats until more than {MOST_YEARS} years ahead. Let it repeat without an "
            "end, or less far."
        )


def _parts(rule: Line) -> dict[str, str]:
    parts: dict[str, str] = {}
    for part in rule.value.strip(";").split(";"):
        name, equals, value = part.partition("=")
        grammar = _PARTS.get(name)
        if not equals or grammar is None or name in parts or not grammar.fullmatch(value):
            raise unreadable("a rule of repetition is not one.")
        parts[name] = value
    if "FREQ" not in parts or ("COUNT" in parts and "UNTIL" in parts):
        raise unreadable("a rule of repetition is not one.")
    check_days(parts.get("UNTIL", ""))
    return parts


def _day(value: str) -> date:
    return date(int(value[:4]), int(value[4:6]), int(value[6:8]))
