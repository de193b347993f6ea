"""Reads sent emails and their calendars, by other code than the product's own."""

import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from zoneinfo import ZoneInfo

from bookings.demo.client import NotSoError

_END_OF_MAIL = b"\n" + b"-" * 79 + b"\n"  # how Django's mail files end each message
_PATIENCE = 20  # seconds
_LINE = re.compile(
    r'([A-Za-z0-9-]+)((?:;[A-Za-z0-9-]+=(?:"[^"]*"|[^";:]*))*):(.*)', re.DOTALL
)  # RFC 5545 section 3.1


@dataclass(frozen=True, slots=True)
class Line:
    """One content line (RFC 5545 section 3.1)."""

    name: str
    parameters: dict[str, str]
    value: str


@dataclass(frozen=True, slots=True)
class Event:
    """A VEVENT as its lines."""

    lines: tuple[Line, ...]

    def all(self, name: str) -> list[Line]:
        return [line for line in self.lines if line.name == name]

    def value(self, name: str) -> str:
        """The value of the only property with this name."""
        found = self.all(name)
        if len(found) != 1:
            raise NotSoError(f"one {name} in the calendar entry", 1, len(found))
        return found[0].value

    @property
    def starts_at(self) -> datetime:
        """DTSTART as an instant, UTC."""
        text = self.value("DTSTART")
        # The zone follows below.
        local = datetime.strptime(text.removesuffix("Z"), "%Y%m%dT%H%M%S")  # noqa: DTZ007
        zone = "UTC" if text.endswith("Z") else self.all("DTSTART")[0].parameters["TZID"]
        return local.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Calendar:
    """A VCALENDAR: its METHOD, "" where it has none, and its events by UID."""

    method: str
    events: dict[str, Event]


def read_calendar(text: str) -> Calendar:
    """Unfolds the lines and collects the events. Other components are left out."""
    if text.count("\n") != text.count("\r\n"):
        raise NotSoError("calendar lines end in CRLF", "CRLF", "a bare line feed")
    method, events, inside = "", {}, list[str]()
    lines: list[Line] = []
    for raw in text.replace("\r\n ", "").replace("\r\n\t", "").split("\r\n"):
        if not raw:
            continue
        line = _line(raw)
        if line.name == "BEGIN":
            inside.append(line.value)
            lines = [] if line.value == "VEVENT" else lines
        elif line.name == "END":
            if inside.pop() == "VEVENT":
                event = Event(tuple(lines))
                events[event.value("UID")] = event
        elif inside == ["VCALENDAR", "VEVENT"]:
            lines.append(line)
        elif line.name == "METHOD":
            method = line.value
    if inside:
        raise NotSoError("every component ends", "END:" + inside[-1], "the end of the file")
    return Calendar(method, events)


def _line(raw: str) -> Line:
    found = _LINE.fullmatch(raw)
    if found is None:
        raise NotSoError("a calendar line", "NAME;PARAMETER=VALUE:VALUE", raw)
    name, parameters, value = found.groups()
    pairs = re.findall(r';([A-Za-z0-9-]+)=("[^"]*"|[^";:]*)', parameters)
    return Line(name, {key: text.strip('"') for key, text in pairs}, value)


def calendar_part(mail: EmailMessage) -> Calendar | None:
    """The calendar part of an email, checked against the METHOD in its header; None without one."""
    parts = [part for part in mail.walk() if part.get_content_type() == "text/calendar"]
    if not parts:
        return None
    calendar = read_calendar(parts[0].get_content())
    if parts[0].get_param("method") != calendar.method:
        raise NotSoError(
            "the mail's method is the calendar's", calendar.method, parts[0].get_param("method")
        )
    return calendar


def only_event(mail: EmailMessage) -> tuple[Calendar, Event]:
    """The calendar of an email and its only event."""
    calendar = calendar_part(mail)
    if calendar is None or len(calendar.events) != 1:
        raise NotSoError(
            f"one calendar entry in the mail {mail['Subject']!s}",
            1,
            len(calendar.events) if calendar else 0,
        )
    return calendar, next(iter(calendar.events.values()))


def carries(method: str, starts_at: datetime) -> Callable[[EmailMessage], bool]:
    """Whether an email has this METHOD for a meeting with this start."""

    def wanted(mail: EmailMessage) -> bool:
        calendar = calendar_part(mail)
        return (
            calendar is not None
            and calendar.method == method
            and {event.starts_at for event in calendar.events.values()} == {starts_at}
        )

    return wanted


class Mailbox:
    """The folder into which the demo server writes its emails."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def to(self, address: str) -> list[EmailMessage]:
        """The emails to this address so far, the oldest first."""
        mails = []
        for path in sorted(self._folder.glob("*.log")):
            # The last piece is empty, or a message that is still being written.
            for written in path.read_bytes().split(_END_OF_MAIL)[:-1]:
                mail = message_from_bytes(written, policy=policy.default)
                if address in {found.addr_spec for found in mail["To"].addresses}:
                    mails.append(mail)
        return mails

    def wait_for(
        self, address: str, what: str, wanted: Callable[[EmailMessage], bool]
    ) -> EmailMessage:
        """The newest wanted email to this address. Waits until there is one."""
        until = time.monotonic() + _PATIENCE
        while True:
            found = [mail for mail in self.to(address) if wanted(mail)]
            if found:
                return found[-1]
            if time.monotonic() > until:
                raise NotSoError(
                    f"a mail to {address}: {what}",
                    f"one within {_PATIENCE} seconds",
                    [str(mail["Subject"]) for mail in self.to(address)],
                )
            time.sleep(0.1)
