"""A calendar file read back as blocks of availability (RFC 7953).

Read narrowly: single periods and weekly ones. Anything else is refused, and the refusal names it.
"""

import re
from collections.abc import Iterable
from datetime import UTC, datetime, time, timedelta
from typing import Any

from icalendar import Calendar

from bookings.calendars.foreign_zones import known_zone
from bookings.domain.availability import Block, BusyType, Window, in_utc_from_wall
from bookings.domain.errors import Refused
from bookings.domain.zones import zone

MOST_BYTES = 100_000
MOST_PARTS = 300
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")  # RFC 5545 section 3.3.10
_YEARS = range(1970, 2200)
_UNFOLD = re.compile("\r?\n[ \t]")
_TZID = re.compile(r'(?i);TZID="?([^":;,\r\n]+)"?(?=[;:])')


def read_availability(text: str) -> list[Block]:
    """The VAVAILABILITY components of a file.

    A zone is known by its name, whatever a VTIMEZONE says.

    Refused: "too-large"; "calendar-unreadable" for a file that is no calendar; "naive-time" for a
    time without a zone; "unknown-zone"; "invalid" for a repetition or an override that hours cannot
    express.
    """
    if len(text.encode(errors="replace")) > MOST_BYTES:
        raise Refused("too-large", f"Send a file of up to {MOST_BYTES // 1000} kB.")
    text = _TZID.sub(_by_its_iana_name, _without_zones(_UNFOLD.sub("", text)))
    if text.upper().count("BEGIN:") > MOST_PARTS:
        raise Refused("too-large", f"Send a file with up to {MOST_PARTS} components.")
    try:
        calendar = Calendar.from_ical(text)
        blocks = [_block(part) for part in calendar.walk("VAVAILABILITY")]
    except Refused:
        raise
    except Exception as error:  # the library may raise anything about a stranger's file
        raise Refused(
            "calendar-unreadable", "This is not a calendar file that can be read (RFC 5545)."
        ) from error
    if not blocks:
        raise Refused("invalid", "The file holds no availability (VAVAILABILITY, RFC 7953).")
    return blocks


def _by_its_iana_name(found: re.Match[str]) -> str:
    """The zone's parameter with the IANA name that a busy calendar's TZID is read by."""
    return f";TZID={known_zone(found[1]) or found[1]}"


def _without_zones(text: str) -> str:
    """The lines outside VTIMEZONE: the library would remember a zone that a stranger defined."""
    kept, inside = [], False
    for line in text.splitlines():
        said = line.strip().upper()
        if said == "BEGIN:VTIMEZONE":
            inside = True
        if not inside:
            kept.append(line)
        if said == "END:VTIMEZONE":
            inside = False
    return "\r\n".join([*kept, ""])


def _block(part: Any) -> Block:
    if part.errors:
        raise Refused(
            "calendar-unreadable", f"A VAVAILABILITY cannot be read: {part.errors[0][0]}."
        )
    since = _instant(part, "DTSTART")
    until = _instant(part, "DTEND")
    if "DURATION" in part and since is not None:
        until = since + part["DURATION"].dt
    if since is not None and until is not None and until <= since:
        raise Refused("end-before-start", "A VAVAILABILITY ends before it starts.")
    priority = int(part.get("PRIORITY", 0))
    busy = str(part.get("BUSYTYPE", BusyType.UNAVAILABLE)).upper()
    if not 0 <= priority <= 9 or busy not in set(BusyType):
        raise Refused(
            "invalid",
            "PRIORITY is 0 to 9 and BUSYTYPE one of BUSY, BUSY-UNAVAILABLE, BUSY-TENTATIVE.",
        )
    windows = tuple(_window(child) for child in part.subcomponents if child.name == "AVAILABLE")
    return Block(windows, since, until, BusyType(busy), priority)


def _window(part: Any) -> Window:
    if part.errors:
        raise Refused("calendar-unreadable", f"An AVAILABLE cannot be read: {part.errors[0][0]}.")
    for name in ("RDATE", "RECURRENCE-ID"):
        if name in part:
            raise Refused(
                "invalid",
                f"An AVAILABLE has {name}, which hours cannot say: write single periods or weekly "
                "ones.",
            )
    opened = _wall(part, "DTSTART")
    if opened is None:
        raise Refused("invalid", "An AVAILABLE has no DTSTART.")
    opens, time_zone = opened
    closes = _closes(part, opens, time_zone)
    if closes <= opens:
        raise Refused("end-before-start", "An AVAILABLE ends before it starts.")
    if "RRULE" not in part:
        return Window(opens, closes, time_zone)
    weekdays, until = _weekly(part["RRULE"], opens, time_zone)
    if closes - opens > timedelta(days=1):
        raise Refused("invalid", "A weekly AVAILABLE lasts up to 24 hours.")
    return Window(opens, closes, time_zone, weekdays, until, _skipped(part, time_zone))


def _closes(part: Any, opens: datetime, time_zone: str) -> datetime:
    if "DURATION" in part:
        length: timedelta = part["DURATION"].dt
        return opens + length
    closed = _wall(part, "DTEND")
    if closed is None:
        raise Refused("invalid", "An AVAILABLE has neither DTEND nor DURATION.")
    wall, other = closed
    if other == time_zone:
        return wall
    return in_utc_from_wall(wall, other).astimezone(zone(time_zone)).replace(tzinfo=None, fold=0)


def _weekly(rule: Any, opens: datetime, time_zone: str) -> tuple[tuple[int, ...], datetime | None]:
    """The weekdays of a weekly rule and its last instant (UTC).

    Refused("invalid") for any other rule.
    """
    if isinstance(rule, list):
        raise Refused("invalid", "An AVAILABLE has more than one RRULE.")
    said = {str(name).upper(): value for name, value in rule.items()}
    frequency = str(said.pop("FREQ", [""])[0]).upper()
    if frequency != "WEEKLY":
        raise Refused(
            "invalid", f"An AVAILABLE repeats by FREQ={frequency[:20]}; hours repeat weekly."
        )
    said.pop("WKST", None)
    if said.pop("INTERVAL", [1]) != [1]:
        raise Refused("invalid", "An AVAILABLE has an INTERVAL; hours repeat every week.")
    days = [str(day).upper() for day in said.pop("BYDAY", [WEEKDAYS[opens.weekday()]])]
    until = said.pop("UNTIL", [None])[0]
    if said:
        raise Refused(
            "invalid",
            f"An AVAILABLE repeats by {', '.join(sorted(said))[:60]}; hours repeat by "
            "FREQ=WEEKLY, BYDAY and UNTIL.",
        )
    if not set(days) <= set(WEEKDAYS) or WEEKDAYS[opens.weekday()] not in days:
        raise Refused(
            "invalid", "BYDAY of an AVAILABLE names weekdays alone, that of its DTSTART among them."
        )
    if until is not None and not isinstance(until, datetime):
        until = datetime.combine(until, time(23, 59, 59))
    if until is not None:
        until = until.astimezone(UTC) if until.tzinfo else in_utc_from_wall(until, time_zone)
    return tuple(sorted({WEEKDAYS.index(day) for day in days})), until


def _skipped(part: Any, time_zone: str) -> frozenset[datetime]:
    if "EXDATE" not in part:
        return frozenset()
    lists = part["EXDATE"] if isinstance(part["EXDATE"], list) else [part["EXDATE"]]
    walls: Iterable[Any] = (value.dt for row in lists for value in row.dts)
    found = set()
    for wall in walls:
        if not isinstance(wall, datetime) or wall.tzinfo is None:
            raise Refused(
                "naive-time", "An EXDATE of an AVAILABLE has no zone: write it like its DTSTART."
            )
        found.add(wall.astimezone(zone(time_zone)).replace(tzinfo=None, fold=0))
    return frozenset(found)


def _instant(part: Any, name: str) -> datetime | None:
    found = _wall(part, name)
    return None if found is None else in_utc_from_wall(*found)


def _wall(part: Any, name: str) -> tuple[datetime, str] | None:
    """The wall time and the zone of a property; UTC is a zone.

    Refused("naive-time") without a zone and for a date alone (RFC 7953 section 3.1).
    """
    if name not in part:
        return None
    value = part[name]
    if isinstance(value, list):
        raise Refused("calendar-unreadable", f"{name} stands twice in one component.")
    if not isinstance(value.dt, datetime):
        raise Refused(
            "naive-time",
            f"{name} is a date; availability has times with a zone (RFC 7953 section 3.1).",
        )
    time_zone = value.params.get("TZID") or ("UTC" if value.dt.tzinfo is not None else None)
    if time_zone is None:
        raise Refused(
            "naive-time",
            f"{name} has no zone; availability is in UTC or names a TZID (RFC 7953 section 3.1).",
        )
    zone(str(time_zone))
    if value.dt.year not in _YEARS:
        raise Refused("invalid", f"{name} lies outside the years {_YEARS[0]} to {_YEARS[-1]}.")
    return value.dt.replace(tzinfo=None, fold=0), str(time_zone)
