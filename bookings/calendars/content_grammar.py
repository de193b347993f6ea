"""The grammar of what is kept of a foreign calendar, and the refusals of a file that breaks it."""

import re
from collections.abc import Mapping
from datetime import date

from bookings.domain.errors import Refused

_DATE = r"\d{8}"
_TIME = r"\d{8}T([01]\d|2[0-3])[0-5]\d([0-5]\d|60)Z?"
_DURATION = r"[+-]?P(\d{1,5}W|(\d{1,5}D)?(T(\d{1,6}H)?(\d{1,6}M)?(\d{1,8}S)?)?)(?<![PT])"
_PERIOD = rf"{_TIME}/({_TIME}|{_DURATION})"
_OFFSET = r"[+-](0\d|1\d|2[0-3])[0-5]\d([0-5]\d)?"


def _list_of(one: str) -> str:
    return rf"({one})(,({one}))*"


# The kept properties of each component, with the grammar of each value. All others are skipped.
_EVENT = {
    "DTSTART": rf"{_DATE}|{_TIME}",
    "DTEND": rf"{_DATE}|{_TIME}",
    "DURATION": _DURATION,
    "RECURRENCE-ID": rf"{_DATE}|{_TIME}",
    "RRULE": r"[A-Z0-9=;,+-]{1,500}",
    "RDATE": _list_of(rf"{_PERIOD}|{_DATE}|{_TIME}"),
    "EXDATE": _list_of(rf"{_DATE}|{_TIME}"),
    "SEQUENCE": r"\d{1,9}",
    "STATUS": r"[A-Z0-9-]{1,40}",
    "TRANSP": r"[A-Z0-9-]{1,40}",
    "UID": r"(?s).*",
}
_ONSETS = {
    "DTSTART": rf"{_DATE}|{_TIME}",
    "RRULE": _EVENT["RRULE"],
    "RDATE": _list_of(rf"{_DATE}|{_TIME}"),
    "TZOFFSETFROM": _OFFSET,
    "TZOFFSETTO": _OFFSET,
}
GRAMMAR: Mapping[str, Mapping[str, re.Pattern[str]]] = {
    component: {name: re.compile(value, re.ASCII) for name, value in properties.items()}
    for component, properties in {
        "VCALENDAR": {},
        "VEVENT": _EVENT,
        # Always in UTC: section 3.8.2.6.
        "VFREEBUSY": {"FREEBUSY": _list_of(rf"{_TIME[:-1]}/({_TIME[:-1]}|{_DURATION})")},
        "VTIMEZONE": {"TZID": r"[^\x00-\x1f]{1,200}"},
        "STANDARD": _ONSETS,
        "DAYLIGHT": _ONSETS,
    }.items()
}
INSIDE = {
    "VEVENT": "VCALENDAR",
    "VFREEBUSY": "VCALENDAR",
    "VTIMEZONE": "VCALENDAR",
    "STANDARD": "VTIMEZONE",
    "DAYLIGHT": "VTIMEZONE",
}
ONCE = {
    "DTSTART",
    "DTEND",
    "DURATION",
    "RECURRENCE-ID",
    "UID",
    "TZID",
    "TZOFFSETFROM",
    "TZOFFSETTO",
    "STATUS",
    "TRANSP",
    "SEQUENCE",
}
# Other values are upper-cased, since section 2 allows names and tokens in any case.
AS_WRITTEN = {"UID", "TZID"}
_DAYS = re.compile(r"(?<!\d)(\d{4})(\d\d)(\d\d)(?!\d)", re.ASCII)


def unreadable(why: str) -> Refused:
    """The refusal of a file that is no iCalendar; `why` is our own sentence and quotes nothing of
    the file.
    """
    return Refused("calendar-unreadable", f"This is not a calendar that can be read: {why}")


def too_much(why: str) -> Refused:
    """The refusal of a calendar that would take too long to expand."""
    return Refused("calendar-too-much", f"This calendar is more than can be worked out: {why}")


def check_days(value: str) -> None:
    """Refused("calendar-unreadable") for a value with a date that no calendar has."""
    for year, month, day in _DAYS.findall(value.replace("T", " T")):
        try:
            date(int(year), int(month), int(day))
        except ValueError:
            raise unreadable("it names a date that does not exist.") from None
