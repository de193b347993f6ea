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
    """One meeting for a calendar. Every datetime is aware UTC, the period is [starts_at, ends_at),
    `time_zone` is an IANA name.

    `stamp` is the last revision of the meeting in a feed, and the making of the message in an
    invitation (RFC 5545 section 3.8.7.2). `status` is a value of MeetingStatus. Only people who are
    booked get `join_address`.
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
        """Start and end in the event's zone, or both in UTC where either falls into a repeated
        hour.

        RFC 5545 section 3.3.5 and programs in use disagree on which of the two instants a repeated
        hour means.
        """
        tz = zone(self.time_zone)
        start, end = self.starts_at.astimezone(tz), self.ends_at.astimezone(tz)
        if self.time_zone == "UTC" or _is_ambiguous(start) or _is_ambiguous(end):
            return self.starts_at.astimezone(UTC), self.ends_at.astimezone(UTC)
        return start, end


@dataclass(frozen=True, slots=True)
class Party:
    """An organizer or attendee: a mail address and a name to show.

    The address is ASCII, without quotes or comments; ValueError otherwise. `sent_by` is the address
    that writes on their behalf, if another one does (SENT-BY, RFC 5545 section 3.2.18).
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
    """The VEVENT of `event`. The attendee gets `partstat` (RFC 5545 section 3.2.12); `rsvp` asks
    for an answer.
    """
    start, end = event.local_period()
    # Typed values are set one by one: Event.add() guesses each type, a third of the time a feed
    # takes.
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
        # CONFERENCE is the standard's place for it (RFC 7986 section 5.11); older calendars show
        # only LOCATION. No URI holds a backslash (RFC 3986 section 2).
        address = one_line(event.join_address).replace("\\", "%5C")
        vevent["LOCATION"] = _line(address)
        vevent["CONFERENCE"] = _conference(address)
    if event.created:
        vevent["CREATED"] = _utc(event.created)
    if event.last_modified:
        vevent["LAST-MODIFIED"] = _utc(event.last_modified)
    if organizer:
        vevent["ORGANIZER"] = address_of(organizer)
    if attendee:
        vevent["ATTENDEE"] = _attendee(attendee, partstat, rsvp)
    return vevent


def _attendee(party: Party, partstat: str, rsvp: bool) -> vCalAddress:
    address = address_of(party)
    if partstat:
        address.params.update({"PARTSTAT": partstat, "RSVP": "TRUE" if rsvp else "FALSE"})
    return address


def to_ical(
    vevents: Iterable[Event | FreeBusy],
    first: datetime,
    last: datetime,
    *,
    properties: Mapping[str, object],
    zones: Iterable[str] = (),
) -> bytes:
    """The bytes of a VCALENDAR with `vevents`.

    Before them stands one VTIMEZONE for each zone used and each of `zones`, valid from `first` to
    `last`.
    """
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
    """A VCALENDAR that writes and folds a shared value once: in a feed most lines repeat an earlier
    line.
    """

    def content_line(self, name: str, value: Any, sorted: bool = True) -> Contentline:
        kept: dict[tuple[str, int], Contentline] = self.__dict__.setdefault("_kept_lines", {})
        key = (
            name,
            id(value),
        )  # the values live as long as the calendar that holds them, so an id is never used twice
        if key not in kept:
            line = super().content_line(name, value, sorted)  # type: ignore[no-untyped-call]
            kept[key] = _Folded(line)  # type: ignore[no-untyped-call]
        return kept[key]


class _Folded(Contentline):
    """A content line that is folded once, and only if it is long: icalendar counts the octets of
    every character even where nothing is folded.
    """

    __slots__ = ("_bytes",)

    def to_ical(self) -> bytes:
        if not hasattr(self, "_bytes"):
            written = self.encode()
            if len(written) >= 75:  # octets; RFC 5545 section 3.1
                written = super().to_ical()  # type: ignore[no-untyped-call]  # icalendar's
            self._bytes: bytes = written
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


def _instant(instant: datetime, time_zone: str) -> vDatetime:
    """The value in UTC where `instant` is, else its wall time with TZID.

    icalendar takes long to find the name of an aware datetime's zone, so it is given a naive one.
    """
    if instant.tzinfo is UTC:
        return vDatetime(instant)
    shown = vDatetime(instant.replace(tzinfo=None))
    shown.params["TZID"] = time_zone
    return shown


def _is_ambiguous(local: datetime) -> bool:
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def address_of(party: Party) -> vCalAddress:
    """The party as ORGANIZER and ATTENDEE name it: a mailto URI and the name."""
    address = vCalAddress(_mailto(party.email))
    if party.name:
        # RFC 5545 section 3.2 gives a backslash in a parameter no meaning, yet programs in use read
        # an escape: a backslash before ";" would hide it.
        address.params["CN"] = one_line(party.name).replace("\\", "/")
    if party.sent_by:
        address.params["SENT-BY"] = _mailto(party.sent_by)
    return address


def _mailto(email: str) -> str:
    return "mailto:" + quote(email, safe="@!$'*+")  # RFC 6068 section 2
