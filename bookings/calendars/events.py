"""A meeting as a calendar sees it, and the VEVENT made of it (RFC 5545 section 3.6.1)."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any
from urllib.parse import quote

from icalendar import Calendar, Event, FreeBusy, vCalAddress, vDatetime, vInt, vText, vUri
from icalendar.parser import Contentline

from bookings.calendars.text import ADDRESS, clean, one_line
from bookings.calendars.zones import vtimezone
from bookings.domain.vocabulary import MeetingStatus
from bookings.domain.zones import zone

PRODID = "-//Levare//Levare calendars//EN"


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarEvent:
    """One meeting. Every datetime is aware UTC, the period is [starts_at, ends_at), `time_zone` is an IANA name.

    `stamp` is when the meeting was last revised in a feed and when the message was made in an invitation (RFC 5545 section
    3.8.7.2). `status` is a value of MeetingStatus. `join_address` is for those booked only.
    """

    uid: str
    sequence: int
    stamp: datetime
    starts_at: datetime
    ends_at: datetime
    time_zone: str
    summary: str
    description: str = ""
    status: str = "CONFIRMED"
    join_address: str = ""
    created: datetime | None = None
    last_modified: datetime | None = None

    def __post_init__(self) -> None:
        for instant in (self.stamp, self.starts_at, self.ends_at, self.created, self.last_modified):
            if instant is not None and instant.tzinfo is None:
                raise ValueError(f"{self.uid}: a calendar event takes aware datetimes only")
        if self.ends_at <= self.starts_at:
            raise ValueError(f"{self.uid}: the end is not after the start")
        if self.status not in set(MeetingStatus):
            raise ValueError(f"{self.uid}: {self.status!r} is not a status of a meeting")

    def local_period(self) -> tuple[datetime, datetime]:
        """Start and end in the event's zone, or both in UTC where either falls into a repeated hour.

        In a repeated hour RFC 5545 section 3.3.5 and readers in use disagree on which of the two instants is meant.
        """
        tz = zone(self.time_zone)
        start, end = self.starts_at.astimezone(tz), self.ends_at.astimezone(tz)
        if self.time_zone == "UTC" or _is_ambiguous(start) or _is_ambiguous(end):
            return self.starts_at.astimezone(UTC), self.ends_at.astimezone(UTC)
        return start, end


@dataclass(frozen=True, slots=True)
class Party:
    """Who organises or attends: a mail address (ASCII, no quotes or comments; ValueError otherwise) and a name to show.

    `sent_by` is the address that writes for it where that is another one (SENT-BY, RFC 5545 section 3.2.18).
    """

    email: str
    name: str = ""
    sent_by: str = ""

    def __post_init__(self) -> None:
        if not ADDRESS.fullmatch(self.email) or (
            self.sent_by and not ADDRESS.fullmatch(self.sent_by)
        ):
            raise ValueError("a party needs a plain mail address")


def to_vevent(
    event: CalendarEvent,
    organizer: Party | None = None,
    attendee: Party | None = None,
    *,
    partstat: str = "",
    rsvp: bool = False,
) -> Event:
    """The VEVENT of `event`. `partstat` (RFC 5545 section 3.2.12) is told where given; an answer is asked for where `rsvp`."""
    start, end = event.local_period()
    # Typed values set one by one: Event.add() would guess each type again, a third of the time a feed takes.
    vevent = Event()
    vevent["UID"] = vText(one_line(event.uid))
    vevent["SEQUENCE"] = _number(event.sequence)
    vevent["DTSTAMP"] = _utc(event.stamp)
    vevent["DTSTART"] = _instant(start, event.time_zone)
    vevent["DTEND"] = _instant(end, event.time_zone)
    vevent["SUMMARY"] = _line(event.summary)
    vevent["STATUS"] = _line(event.status)
    vevent["TRANSP"] = _line("TRANSPARENT" if event.status == MeetingStatus.CANCELLED else "OPAQUE")
    if event.description:
        vevent["DESCRIPTION"] = _text(event.description)
    if event.join_address:
        # CONFERENCE is the standard's place for it (RFC 7986 section 5.11); older calendars show LOCATION alone.
        address = one_line(event.join_address).replace(
            "\\", "%5C"
        )  # RFC 3986 section 2: no URI holds one
        vevent["LOCATION"] = _line(address)
        vevent["CONFERENCE"] = _conference(address)
    if event.created:
        vevent["CREATED"] = _utc(event.created)
    if event.last_modified:
        vevent["LAST-MODIFIED"] = _utc(event.last_modified)
    if organizer:
        vevent["ORGANIZER"] = address_of(organizer)
    if attendee:
        vevent["ATTENDEE"] = address_of(attendee)
        if partstat:
            vevent["ATTENDEE"].params.update(
                {"PARTSTAT": partstat, "RSVP": "TRUE" if rsvp else "FALSE"}
            )
    return vevent


def to_ical(
    vevents: Iterable[Event | FreeBusy],
    first: datetime,
    last: datetime,
    *,
    properties: Mapping[str, object],
    zones: Iterable[str] = (),
) -> bytes:
    """The bytes of a VCALENDAR: one VTIMEZONE for each zone used and each of `zones`, good from `first` to `last`; then `vevents`."""
    calendar = _Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    for name, value in properties.items():
        calendar.add(name, value)
    vevents = list(vevents)
    used = {vevent["DTSTART"].params.get("TZID") for vevent in vevents} - {None}
    calendar.subcomponents = [
        *(vtimezone(name, first, last) for name in sorted({*zones, *used})),
        *vevents,
    ]
    written: bytes = calendar.to_ical()
    return written


class _Calendar(Calendar):
    """Writes a value that many meetings share, and folds it, once: in a feed most lines are the same as a line before."""

    def content_line(self, name: str, value: Any, sorted: bool = True) -> Contentline:
        kept: dict[tuple[str, int], Contentline] = self.__dict__.setdefault("_kept_lines", {})
        key = (name, id(value))  # of values that live as long as the calendar that holds them
        if key not in kept:
            kept[key] = _Folded(super().content_line(name, value, sorted))  # type: ignore[no-untyped-call]  # icalendar's
        return kept[key]


class _Folded(Contentline):
    """A content line that is folded already."""

    __slots__ = ("_bytes",)

    def to_ical(self) -> bytes:
        if not hasattr(self, "_bytes"):
            self._bytes: bytes = super().to_ical()  # type: ignore[no-untyped-call]  # icalendar's
        return self._bytes


@lru_cache(maxsize=1000)
def _text(text: str) -> vText:
    return vText(clean(text))


@lru_cache(maxsize=1000)
def _line(text: str) -> vText:
    return vText(one_line(text))


@lru_cache(maxsize=100)
def _conference(address: str) -> vUri:
    return vUri(address, params={"VALUE": "URI", "LABEL": "Join"})


@lru_cache(maxsize=100)
def _number(number: int) -> vInt:
    return vInt(number)


@lru_cache(maxsize=1000)
def _utc(instant: datetime) -> vDatetime:
    return vDatetime(instant.astimezone(UTC))


def _instant(moment: datetime, time_zone: str) -> vDatetime:
    """As it is where in UTC, else what the wall shows, and the zone; from an aware one icalendar looks the name up at length."""
    if moment.tzinfo is UTC:
        return vDatetime(moment)
    shown = vDatetime(moment.replace(tzinfo=None))
    shown.params["TZID"] = time_zone
    return shown


def _is_ambiguous(local: datetime) -> bool:
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def address_of(party: Party) -> vCalAddress:
    """The party as ORGANIZER and ATTENDEE name it: a mailto URI and the name."""
    address = vCalAddress(_mailto(party.email))
    if party.name:
        # A backslash means nothing in a parameter (RFC 5545 section 3.2), yet readers take it for an escape: "\\;" would hide the next one.
        address.params["CN"] = one_line(party.name).replace("\\", "/")
    if party.sent_by:
        address.params["SENT-BY"] = _mailto(party.sent_by)
    return address


def _mailto(email: str) -> str:
    return "mailto:" + quote(email, safe="@!$'*+")  # RFC 6068 section 2
