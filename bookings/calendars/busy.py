"""When a foreign calendar says its owner is busy: rounded periods of UTC, and nothing else from the
file.

Decisions where the standards leave room:
- A VEVENT is busy unless TRANSP is TRANSPARENT or STATUS is CANCELLED; TENTATIVE is busy
  (RFC 5545 sections 3.8.2.7, 3.8.1.11).
- A FREEBUSY period is busy unless its FBTYPE is FREE; an unknown type counts as BUSY
  (section 3.2.9).
- A date without a time lasts the owner's local day. A time without a zone is on the owner's clock.
- A TZID that the pinned zone rules know is read by them, even where the file has a VTIMEZONE of
  that name: rules in files are often old. An unknown TZID is read by the file's VTIMEZONE. Without
  one it is read on the owner's clock, and counted, so that the owner can be told.
- An entry without length takes no time. Days of a DURATION are nominal, shorter units exact; DTEND
  is exact.
- A time that a clock skips is read with the offset before the gap (section 3.3.5); the entry lasts
  as long as written.
- An UNTIL that is a date, beside a start that is a time, includes that whole date. One without Z is
  a local time.
- EXDATE, RDATE, RECURRENCE-ID (with THISANDFUTURE) and the higher SEQUENCE win as sections 3.8.4.4
  and 3.8.5 say. Entries of one UID and one SEQUENCE all count. A changed instance stays even where
  EXDATE names it.
- Small faults that calendars in use make are forgiven, with a note for the owner.
- Periods are rounded outward to 5 minutes, cut to the window and merged where they meet, so that
  their number tells nothing.
The work can be slow: it runs in a process of its own, with limits (bookings.inbound.expanding).
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import recurring_ical_events
from icalendar import Calendar, vPeriod

from bookings.calendars.content import Component, Line, read
from bookings.calendars.content_grammar import too_much, unreadable
from bookings.calendars.foreign_zones import Zones
from bookings.calendars.repetition import check_event
from bookings.calendars.series import bring_forward, keep_overrides, numbered, settle_until
from bookings.calendars.spans import Length, begins_at, date_or_instant, length
from bookings.domain.timeline import CELL, EPOCH
from bookings.domain.zones import zone

MOST_PERIODS = 5_000
"""Counted after merging: a year of about fourteen meetings a day."""
_Window = tuple[datetime, datetime]
_AROUND = timedelta(days=2)
_TIMED = ("DTSTART", "DTEND", "RECURRENCE-ID", "RDATE", "EXDATE")
_LENGTH = "X-LENGTH"


@dataclass(frozen=True, slots=True)
class Busy:
    """Busy cells as (first, past), 5 minutes each, counted from 1970 UTC, rising and apart.

    `unknown_zones` counts zones that nobody knows; `notes` are phrases, one for each kind of fault
    forgiven.
    """

    cells: list[tuple[int, int]]
    unknown_zones: int
    notes: tuple[str, ...] = ()


def busy(
    data: bytes,
    time_zone: str,
    since: datetime,
    until: datetime,
    ours: frozenset[str] = frozenset(),
) -> Busy:
    """The busy cells of an iCalendar file in [since, until), aware instants; `time_zone` is the
    owner's.

    Entries whose UID is in `ours` are left out: they are the owner's meetings here, which their
    calendar shows. Refused: "calendar-unreadable" for a file that is no calendar,
    "calendar-too-much" for one that would take too long.
    """
    calendars, notes = read(data)
    parts = [part for calendar in calendars for part in calendar.inner]
    events = [part for part in parts if part.name == "VEVENT" and _uid(part) not in ours]
    zones = Zones([part for part in parts if part.name == "VTIMEZONE"], time_zone)
    for event in events:
        check_event(event, since)
    window = (since - _AROUND, until + _AROUND)
    once, repeated = _sorted(events, window)
    for event in (*once, *repeated):
        _settle(event, zones)
    keep_overrides(repeated)
    _bring_forward(repeated, window[0])
    clock = zone(time_zone)
    # The library reads the zones that a file defines.
    odd = [event for event in once if zones.is_own(event)]
    plain = [event for event in once if not zones.is_own(event)]
    periods = [_period(event, clock) for event in plain if _is_busy(event)]
    periods += _expanded([*zones.used, *numbered([*repeated, *odd])], clock, window)
    for part in parts:
        if part.name == "VFREEBUSY":
            periods += _freebusy(part)
    cells = _merged(periods, since, until)
    if len(cells) > MOST_PERIODS:
        raise too_much(f"it has more than {MOST_PERIODS} separate times within a year.")
    return Busy(cells, len(zones.unknown), tuple(notes))


def _uid(event: Component) -> str | None:
    line = event.one("UID")
    return None if line is None else line.value


def _sorted(events: list[Component], window: _Window) -> tuple[list[Component], list[Component]]:
    """Single entries that may touch the window, and repeating ones, both in the order of the file.

    Most of an old calendar lies in the past, so past single entries are left out before any other
    work.
    """
    uids = Counter(_uid(event) for event in events)
    first, past = (f"{instant:%Y%m%d}" for instant in window)
    once, repeated = [], []
    for event in events:
        uid = _uid(event)
        shares_uid = uid is not None and uids[uid] > 1
        if shares_uid or any(event.one(name) for name in ("RRULE", "RDATE", "RECURRENCE-ID")):
            repeated.append(event)
            continue
        days = [line.value[:8] for line in event.lines if line.name in ("DTSTART", "DTEND")]
        if min(days) <= past and (max(days) >= first or event.one("DURATION")):
            once.append(event)
    return once, repeated


def _settle(event: Component, zones: Zones) -> None:
    """Gives every time of the entry a zone, and the entry its length.

    The length is left to the library in the file's own zones, and for an RDATE with an end of its
    own.
    """
    for line in event.lines:
        if line.name in _TIMED:
            zones.settle(line)
    starts = event.one("DTSTART")
    if starts is not None and len(starts.value) > 8:
        for rule in event.all("RRULE"):
            settle_until(rule, zones.clock(starts))
    if not zones.is_own(event) and not any("/" in line.value for line in event.all("RDATE")):
        event.lines.append(Line(_LENGTH, {}, "{}:{}".format(*length(event))))


def _is_busy(event: Component) -> bool:
    return not any(
        line.value in ("TRANSPARENT", "CANCELLED")
        for line in event.lines
        if line.name in ("TRANSP", "STATUS")
    )


def _period(event: Component, clock: ZoneInfo) -> tuple[datetime, datetime]:
    starts = next(line for line in event.lines if line.name == "DTSTART")
    starts_at = begins_at(date_or_instant(starts), clock)
    return starts_at.astimezone(UTC), length(event).after(starts_at)


def _bring_forward(events: list[Component], since: datetime) -> None:
    """Lets repeating entries begin shortly before `since`.

    An entry with a change to all later instances counts from its real start, so it is left alone.
    """
    ranged = {
        _uid(event)
        for event in events
        if any("RANGE" in line.parameters for line in event.all("RECURRENCE-ID"))
    } - {None}
    for event in events:
        lasts = event.one(_LENGTH)
        if lasts is not None and _uid(event) not in ranged:
            bring_forward(event, since, Length(*map(int, lasts.value.split(":"))))


def _expanded(
    parts: list[Component], clock: ZoneInfo, window: _Window
) -> Iterator[tuple[datetime, datetime]]:
    """The periods of all repeating entries, from the library."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//-",
        *(line for part in parts for line in part.text()),
        "END:VCALENDAR",
        "",
    ]
    try:
        found = recurring_ical_events.of(Calendar.from_ical("\r\n".join(lines))).between(*window)
        for event in found:
            if event.get("TRANSP") == "TRANSPARENT" or event.get("STATUS") == "CANCELLED":
                continue
            starts_at = begins_at(event["DTSTART"].dt, clock)
            ends_at = begins_at(event["DTEND"].dt, clock)
            if _LENGTH in event:
                ends_at = Length(*map(int, event[_LENGTH].split(":"))).after(starts_at)
            yield starts_at.astimezone(UTC), ends_at.astimezone(UTC)
    except (ValueError, TypeError, KeyError, AttributeError, IndexError, OverflowError) as error:
        # The libraries raise these for values that fit the grammar and not the calendar's
        # arithmetic.
        raise unreadable("an entry's times do not fit together.") from error


def _freebusy(part: Component) -> Iterator[tuple[datetime, datetime]]:
    for line in part.all("FREEBUSY"):
        if line.parameters.get("FBTYPE", "BUSY").upper() == "FREE":
            continue
        for value in line.value.split(","):
            try:
                starts_at, end = vPeriod.from_ical(value)  # type: ignore[no-untyped-call]
                ends_at = starts_at + end if isinstance(end, timedelta) else end
            except (ValueError, OverflowError) as error:
                raise unreadable("a period of busy time is not one.") from error
            if ends_at < starts_at:
                raise unreadable("a period of busy time ends before it starts.")
            yield starts_at.astimezone(UTC), ends_at.astimezone(UTC)


def _merged(
    periods: Iterable[tuple[datetime, datetime]], since: datetime, until: datetime
) -> list[tuple[int, int]]:
    low, high = (since - EPOCH) // CELL, -((EPOCH - until) // CELL)
    cells: list[tuple[int, int]] = []
    for starts_at, ends_at in sorted(periods):
        first, past = max((starts_at - EPOCH) // CELL, low), min(-((EPOCH - ends_at) // CELL), high)
        if first >= past or starts_at >= ends_at:
            continue
        if cells and first <= cells[-1][1]:
            cells[-1] = (cells[-1][0], max(past, cells[-1][1]))
        else:
            cells.append((first, past))
    return cells
