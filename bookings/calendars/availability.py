"""Teaching hours as VAVAILABILITY (RFC 7953), and such a file read back as blocks of availability.

Written one property at a time: icalendar's Available.new and Availability.new turn local times into UTC, and a weekly hour
would drift with the next clock change. Read narrowly: single periods and weekly ones; anything else is refused by its name.
"""

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from uuid import UUID, uuid5

from icalendar import Availability, Available, Calendar, vDDDTypes, vRecur

from bookings.calendars.events import PRODID
from bookings.calendars.foreign_zones import known_zone
from bookings.calendars.zones import vtimezone
from bookings.domain.availability import Block, BusyType, Window, in_utc_from_wall
from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES, TeachingTime
from bookings.domain.zones import zone

MOST_BYTES = 100_000
MOST_PARTS = 300
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")  # RFC 5545 section 3.3.10
COVERED_DAYS = 5 * 366
"""How far ahead the zone's changes are written out, for a week that has no end."""
_NAMES = UUID("5f0a3c1e-6d0f-4b52-9f64-2f2b6f1c7a11")
_YEARS = range(1970, 2200)


def availability(owner: str, teaching: TeachingTime, *, stamp: datetime, name: str) -> bytes:
    """The published hours as a file: the week and extra hours open a block without end, days away are blocks of priority 1.

    `owner` tells one instructor's components from another's and is not shown; `stamp` (aware) is when she last published, and
    the week begins on that date. The same hours give the same bytes.
    """
    stamp = stamp.astimezone(UTC).replace(microsecond=0)
    base = _component(Availability(), owner, "hours", stamp)
    base.add("summary", name)
    zones = set()
    for weekly in sorted(
        teaching.weekly, key=lambda window: (window.time_zone, window.weekday, window.opens)
    ):
        today = stamp.astimezone(zone(weekly.time_zone)).date()
        on = today + timedelta(days=(weekly.weekday - today.weekday()) % 7)
        part = _available(
            owner, f"weekly:{weekly}", stamp, on, weekly.opens, weekly.closes, weekly.time_zone
        )
        part["RRULE"] = vRecur({"FREQ": "WEEKLY", "BYDAY": WEEKDAYS[weekly.weekday]})
        base.add_component(part)
        zones.add(weekly.time_zone)
    for extra in sorted(
        teaching.extra, key=lambda window: (window.on, window.opens, window.time_zone)
    ):
        base.add_component(
            _available(
                owner, f"extra:{extra}", stamp, extra.on, extra.opens, extra.closes, extra.time_zone
            )
        )
        zones.add(extra.time_zone)
    blocks = [base]
    for away in sorted(
        teaching.away, key=lambda days: (days.first_on, days.last_on, days.time_zone)
    ):
        gone = _component(Availability(), owner, f"away:{away}", stamp)
        gone["DTSTART"] = _local(away.first_on, 0, away.time_zone)
        gone["DTEND"] = _local(away.last_on, DAY_MINUTES, away.time_zone)
        gone.add("priority", 1)
        blocks.append(gone)
        zones.add(away.time_zone)
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    used = sorted(zones - {"UTC"})
    ends = [
        stamp.date(),
        *(window.on for window in teaching.extra),
        *(away.last_on for away in teaching.away),
    ]
    begins = [
        stamp.date(),
        *(window.on for window in teaching.extra),
        *(away.first_on for away in teaching.away),
    ]
    first = datetime.combine(min(begins), time(), UTC) - timedelta(days=2)
    last = datetime.combine(max(ends), time(), UTC) + timedelta(days=COVERED_DAYS)
    calendar.subcomponents = [*(vtimezone(used_zone, first, last) for used_zone in used), *blocks]
    written: bytes = calendar.to_ical()
    return written


def _component(part: Any, owner: str, what: str, stamp: datetime) -> Any:
    part.add("uid", str(uuid5(_NAMES, f"{owner}:{what}")))
    part.add("dtstamp", stamp)
    return part


def _available(
    owner: str, what: str, stamp: datetime, on: date, opens: int, closes: int, time_zone: str
) -> Available:
    part: Available = _component(Available(), owner, what, stamp)
    part["DTSTART"] = _local(on, opens, time_zone)
    part["DTEND"] = _local(on, closes, time_zone)
    return part


def _local(on: date, minute: int, time_zone: str) -> vDDDTypes:
    return vDDDTypes(
        (datetime.combine(on, time()) + timedelta(minutes=minute)).replace(tzinfo=zone(time_zone))
    )


_UNFOLD = re.compile("\r?\n[ \t]")
_TZID = re.compile(r'(?i);TZID="?([^":;,\r\n]+)"?(?=[;:])')


def read_availability(text: str) -> list[Block]:
    """The VAVAILABILITY components of a file. Zones are taken by their names; a VTIMEZONE is not looked at.

    Refused: "too-large", "calendar-unreadable" where it is no calendar, "naive-time" for a floating time, "unknown-zone", and "invalid"
    where it repeats or overrides in a way that hours do not have.
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
    except (
        Exception
    ) as error:  # a parser of other people's files: whatever it stumbles over, the file is at fault
        raise Refused(
            "calendar-unreadable", "This is not a calendar file that can be read (RFC 5545)."
        ) from error
    if not blocks:
        raise Refused("invalid", "The file holds no availability (VAVAILABILITY, RFC 7953).")
    return blocks


def _by_its_iana_name(found: re.Match[str]) -> str:
    """A zone by the same name as a busy calendar's would be read by, whatever system wrote the file."""
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
                f"An AVAILABLE has {name}, which hours cannot say: write single periods or weekly ones.",
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
    """The weekdays of a weekly rule and its last instant; Refused by name where it says anything else."""
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
            f"An AVAILABLE repeats by {', '.join(sorted(said))[:60]}; hours repeat by FREQ=WEEKLY, BYDAY and UNTIL.",
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
    """The wall time and the zone of a property; UTC is a zone. RFC 7953 section 3.1: never floating, never a date alone."""
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
