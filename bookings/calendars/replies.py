"""One answer that a calendar sends by mail (RFC 5546 sections 3.2.3, 3.2.6 and 3.2.7; RFC 6047),
read strictly.

A mail comes from a stranger until proven otherwise. A mail that is too large, nested without end,
sent by a machine or not exactly one answer about one meeting is ignored, for a reason that is
counted. No text of it is kept. Nothing is expanded.
"""

import json
from codecs import BOM_UTF8, lookup
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from email.message import EmailMessage
from email.utils import getaddresses
from enum import StrEnum
from urllib.parse import unquote

from icalendar import Calendar, Component, vCalAddress

from bookings.calendars.authentication import vouches_for
from bookings.calendars.ignoring import Ignored, WhyIgnored, parsed
from bookings.calendars.mail_headers import written

MOST_CALENDAR = 64 * 1024
_MOST_LINES = 1_000
# Only ASCII letters matter in an answer, so reading UTF-8 where it says ASCII does no harm.
_DECODED_AS = {"utf-8": "utf-8", "ascii": "utf-8", "iso8859-1": "iso-8859-1"}
_ANSWERS = {"ACCEPTED", "TENTATIVE", "DECLINED"}


class Method(StrEnum):
    """The methods that an attendee may send about one meeting."""

    REPLY = "REPLY"
    COUNTER = "COUNTER"
    REFRESH = "REFRESH"


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarReply:
    """One answer about one meeting.

    `sender` (From), `attendee` and `to` (the addresses it came to) are in lower case.

    `stamp` is DTSTAMP and `starts_at` the start that a COUNTER asks for, both UTC. `partstat` is
    empty except in a REPLY. `is_vouched_for` if the school's own mail server says that the mail
    came from the domain of `sender`.
    """

    method: Method
    uid: str
    sequence: int
    stamp: datetime
    sender: str
    attendee: str
    to: Collection[str]
    is_vouched_for: bool
    partstat: str = ""
    starts_at: datetime | None = None

    def as_text(self) -> str:
        """JSON that `from_text` reads."""
        told = {name: getattr(self, name) for name in self.__slots__}
        asked = self.starts_at.isoformat() if self.starts_at is not None else None
        return json.dumps(
            {**told, "to": list(self.to), "stamp": self.stamp.isoformat(), "starts_at": asked}
        )

    @classmethod
    def from_text(cls, text: str) -> "CalendarReply":
        """The answer that `as_text` wrote."""
        told = json.loads(text)
        stamp, asked = datetime.fromisoformat(told["stamp"]), told["starts_at"]
        return cls(
            **{**told, "method": Method(told["method"]), "to": frozenset(told["to"])}
            | {"stamp": stamp, "starts_at": datetime.fromisoformat(asked) if asked else None}
        )


def read_reply(
    mail: bytes, *, to: str = "", sender: str | None = None, authserv_id: str = ""
) -> CalendarReply:
    """The one answer in a mail; raises Ignored for any other mail.

    `to` and `sender` are the envelope's, if the mail server gives them: an empty sender is a
    bounce. `authserv_id` is the name under which that server writes Authentication-Results; without
    one, nobody vouches for a sender.
    """
    try:
        message = parsed(mail)
        _check_by_hand(message, sender)
        calendar, method = _calendar_part(message)
        who = _one_address(message.get_all("From", []))
        results = written(message, "Authentication-Results")
        is_sure = vouches_for(who.rpartition("@")[2], results, authserv_id=authserv_id)
        came_to = {
            address for _, address in getaddresses([str(line) for line in _recipients(message)])
        }
    except (ValueError, LookupError, AttributeError, TypeError, RecursionError):
        raise Ignored(WhyIgnored.MALFORMED) from None
    addresses = frozenset(address.lower() for address in ({to} if to else came_to) if address)
    return replace(_answer(calendar, method), sender=who, to=addresses, is_vouched_for=is_sure)


def _check_by_hand(message: EmailMessage, sender: str | None) -> None:
    """Ignores a mail that a machine sent (RFC 3834) and one with an empty envelope sender, a
    bounce.
    """
    envelope = sender if sender is not None else message.get("Return-Path")
    automatic = str(message.get("Auto-Submitted", "no")).partition(";")[0].strip().lower() != "no"
    bulk = str(message.get("Precedence", "")).strip().lower() in {"bulk", "junk", "list"}
    if automatic or bulk or (envelope is not None and str(envelope).strip() in {"", "<>"}):
        raise Ignored(WhyIgnored.AUTOMATIC)


def _calendar_part(message: EmailMessage) -> tuple[str, str]:
    """The text and the method of the text/calendar part with a method (RFC 6047 section 2.4).

    A second part with the same text is the same answer, attached as a file.
    """
    parts = [
        part
        for part in message.walk()
        if part.get_content_type() == "text/calendar" and part.get_param("method")
    ]
    if not parts:
        raise Ignored(WhyIgnored.NO_ANSWER)
    found = [(_text(part), str(part.get_param("method")).upper()) for part in parts]
    if len({*found}) > 1:
        raise Ignored(WhyIgnored.MALFORMED)
    return found[0]


def _text(part: EmailMessage) -> str:
    """The part's calendar with plain line ends and without a byte order mark, which some programs
    put before it.
    """
    payload = part.get_payload(decode=True)
    if (
        not isinstance(payload, bytes)
        or len(payload) > MOST_CALENDAR
        or payload.count(b"\n") > _MOST_LINES
    ):
        raise Ignored(WhyIgnored.MALFORMED)
    decode = _DECODED_AS.get(lookup(part.get_content_charset() or "utf-8").name)
    if decode is None:
        raise Ignored(WhyIgnored.MALFORMED)
    text = payload.removeprefix(BOM_UTF8).decode(decode)
    return text.replace("\r\n", "\n").strip() + "\n"


def _recipients(message: EmailMessage) -> list[str]:
    return [
        line
        for name in ("Delivered-To", "X-Original-To", "To", "Cc")
        for line in message.get_all(name, [])
    ]


def _one_address(lines: list[str]) -> str:
    addresses = [address for _, address in getaddresses([str(line) for line in lines])]
    if len(addresses) != 1 or "@" not in addresses[0]:
        raise Ignored(WhyIgnored.MALFORMED)
    return addresses[0].lower()


def _answer(written: str, method: str) -> CalendarReply:
    try:
        calendar = Calendar.from_ical(written)
        events = [part for part in calendar.subcomponents if part.name != "VTIMEZONE"]
        if (
            str(calendar.get("METHOD", "")).upper() != method
            or len(events) != 1
            or events[0].name != "VEVENT"
        ):
            raise Ignored(WhyIgnored.MALFORMED)
        if method not in set(Method):
            raise Ignored(WhyIgnored.NO_ANSWER)
        return _of_event(events[0], Method(method))
    except Ignored:
        raise
    except Exception:  # the library may raise anything about a stranger's calendar
        raise Ignored(WhyIgnored.MALFORMED) from None


def _of_event(event: Component, method: Method) -> CalendarReply:
    """The answer without sender and recipients, which the mail gives."""
    attendee = event["ATTENDEE"]
    # One attendee answers (RFC 5546 section 3.2.3), and our meetings do not repeat.
    if not isinstance(attendee, vCalAddress) or "RECURRENCE-ID" in event or "RRULE" in event:
        raise Ignored(WhyIgnored.MALFORMED)
    partstat = str(attendee.params.get("PARTSTAT", "")).upper() if method is Method.REPLY else ""
    sequence = int(str(event.get("SEQUENCE", 0)))
    if not 0 <= sequence < 2**31 or (method is Method.REPLY and partstat not in _ANSWERS):
        raise Ignored(WhyIgnored.MALFORMED)
    return CalendarReply(
        method=method,
        uid=str(event["UID"])[:80],
        sequence=sequence,
        stamp=_instant(event, "DTSTAMP"),
        sender="",
        attendee=unquote(str(attendee)).lower().removeprefix("mailto:"),
        to=(),
        is_vouched_for=False,
        partstat=partstat,
        starts_at=_instant(event, "DTSTART") if method is Method.COUNTER else None,
    )


def _instant(event: Component, name: str) -> datetime:
    """The instant of a property in UTC; Ignored for a date, and for a time in an unknown zone."""
    instant = getattr(event[name], "dt", None)
    if not isinstance(instant, datetime) or instant.tzinfo is None:
        raise Ignored(WhyIgnored.MALFORMED)
    return instant.astimezone(UTC)
