"""A meeting as a calendar sees it, and the VEVENT made of it (RFC 5545 section 3.6.1)."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import quote

from icalendar import Calendar, Event, vCalAddress, vDatetime, vDDDTypes, vInt, vText, vUri

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
    """Who organises or attends: a mail address (ASCII, no quotes or comments; ValueError otherwise) and a name to show."""

    email: str
    name: str = ""

    def __post_init__(self) -> None:
        if not ADDRESS.fullmatch(self.email):
            raise ValueError("a party needs a plain mail address")


def to_vevent(event: CalendarEvent, organizer: Party | None = None, attendee: Party | None = None, *, partstat: str = "") -> Event:
    """The VEVENT of `event`. `partstat` (RFC 5545 section 3.2.12) is told where given; an answer is never asked for."""
    start, end = event.local_period()
    # Typed values set one by one: Event.add() would guess each type again, a third of the time a feed takes.
    vevent = Event()
    vevent["UID"] = vText(one_line(event.uid))
    vevent["SEQUENCE"] = vInt(event.sequence)
    vevent["DTSTAMP"] = vDatetime(event.stamp.astimezone(UTC))
    vevent["DTSTART"] = vDDDTypes(start)
    vevent["DTEND"] = vDDDTypes(end)
    vevent["SUMMARY"] = vText(one_line(event.summary))
    vevent["STATUS"] = vText(event.status)
    vevent["TRANSP"] = vText("TRANSPARENT" if event.status == MeetingStatus.CANCELLED else "OPAQUE")
    if event.description:
        vevent["DESCRIPTION"] = vText(clean(event.description))
    if event.join_address:
        # CONFERENCE is the standard's place for it (RFC 7986 section 5.11); older calendars show LOCATION alone.
        address = one_line(event.join_address).replace("\\", "%5C")  # RFC 3986 section 2: no URI holds one
        vevent["LOCATION"] = vText(address)
        vevent["CONFERENCE"] = vUri(address, params={"VALUE": "URI", "LABEL": "Join"})
    if event.created:
        vevent["CREATED"] = vDatetime(event.created.astimezone(UTC))
    if event.last_modified:
        vevent["LAST-MODIFIED"] = vDatetime(event.last_modified.astimezone(UTC))
    if organizer:
        vevent["ORGANIZER"] = _address(organizer)
    if attendee:
        vevent["ATTENDEE"] = _address(attendee)
        if partstat:
            vevent["ATTENDEE"].params.update({"PARTSTAT": partstat, "RSVP": "FALSE"})
    return vevent


def to_ical(
    vevents: Iterable[Event], first: datetime, last: datetime, *, properties: Mapping[str, object], zones: Iterable[str] = ()
) -> bytes:
    """The bytes of a VCALENDAR: one VTIMEZONE for each zone used and each of `zones`, good from `first` to `last`; then `vevents`."""
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    for name, value in properties.items():
        calendar.add(name, value)
    vevents = list(vevents)
    used = {vevent["DTSTART"].params.get("TZID") for vevent in vevents} - {None}
    calendar.subcomponents = [*(vtimezone(name, first, last) for name in sorted({*zones, *used})), *vevents]
    written: bytes = calendar.to_ical()
    return written


def _is_ambiguous(local: datetime) -> bool:
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def _address(party: Party) -> vCalAddress:
    address = vCalAddress("mailto:" + quote(party.email, safe="@!$'*+"))  # RFC 6068 section 2
    if party.name:
        # A backslash means nothing in a parameter (RFC 5545 section 3.2), yet readers take it for an escape: "\\;" would hide the next one.
        address.params["CN"] = one_line(party.name).replace("\\", "/")
    return address
