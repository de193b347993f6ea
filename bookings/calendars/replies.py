"""What a calendar answers by mail (RFC 5546 sections 3.2.3, 3.2.6 and 3.2.7, carried as in RFC 6047), read strictly.

A mail is a stranger's until proven otherwise: what is too large, nested without end, sent by a machine or not exactly one
answer about one meeting is ignored, for a reason that can be counted. No text of it is kept. Nothing is expanded.
"""

import json
from codecs import BOM_UTF8, lookup
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.utils import getaddresses
from enum import StrEnum
from urllib.parse import unquote

from icalendar import Calendar, Component, vCalAddress

from bookings.calendars.authentication import vouches_for
from bookings.calendars.mail_headers import MeteredPolicy, written

MOST_BYTES = 256 * 1024
MOST_CALENDAR = 64 * 1024
_MOST_LINES = 1_000
# Letters beyond ASCII stand in nothing that is read, so what says ASCII and is UTF-8 does no harm.
_DECODED_AS = {"utf-8": "utf-8", "ascii": "utf-8", "iso8859-1": "iso-8859-1"}
_ANSWERS = {"ACCEPTED", "TENTATIVE", "DECLINED"}


class Reason(StrEnum):
    """Why a mail was ignored; the values are stored."""

    TOO_LARGE = "too-large"
    TOO_MUCH = "too-much"
    AUTOMATIC = "automatic"
    NO_ANSWER = "no-answer"
    MALFORMED = "malformed"
    UNKNOWN_ADDRESS = "unknown-address"
    UNKNOWN_SENDER = "unknown-sender"
    UNPROVEN = "unproven"
    OLD = "old"
    NO_PLACE = "no-place"
    TOO_MANY = "too-many"
    REFUSED = "refused"


class Ignored(Exception):
    """A mail that nothing follows from. It holds the reason and nothing of the mail."""

    def __init__(self, reason: Reason) -> None:
        super().__init__(reason.value)
        self.reason = reason


class Method(StrEnum):
    """What an attendee may send about one meeting."""

    REPLY = "REPLY"
    COUNTER = "COUNTER"
    REFRESH = "REFRESH"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer. `sender` (From), `attendee` and `to`, the addresses it came to, are in small
    letters.

    `stamp` is DTSTAMP, `starts_at` the start that a COUNTER asks for, both UTC. `partstat` is empty
    in all but a REPLY. `is_vouched_for` where the school's own mail server says that it came from
    the domain of `sender`.
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
    def from_text(cls, text: str) -> "Answer":
        """The answer that `as_text` wrote."""
        told = json.loads(text)
        stamp, asked = datetime.fromisoformat(told["stamp"]), told["starts_at"]
        return cls(
            **{**told, "method": Method(told["method"]), "to": frozenset(told["to"])}
            | {"stamp": stamp, "starts_at": datetime.fromisoformat(asked) if asked else None}
        )


def read_answer(
    mail: bytes, *, to: str = "", sender: str | None = None, authserv_id: str = ""
) -> Answer:
    """The one answer in a mail; raises Ignored for anything else.

    `to` and `sender` are the envelope's, where the mail server names them: an empty sender is a
    bounce. `authserv_id` is the name under which that server writes Authentication-Results; without
    one nobody vouches for a sender.
    """
    if len(mail) > MOST_BYTES:
        raise Ignored(Reason.TOO_LARGE)
    try:
        message = _parsed(mail)
        _check_by_hand(message, sender)
        calendar, method = _calendar_part(message)
        who = _one_address(message.get_all("From", []))
        results = written(message, "Authentication-Results")
        is_sure = vouches_for(who.rpartition("@")[2], results, authserv_id=authserv_id)
        came_to = {
            address for _, address in getaddresses([str(line) for line in _recipients(message)])
        }
    except (ValueError, LookupError, AttributeError, TypeError, RecursionError):
        raise Ignored(Reason.MALFORMED) from None
    addresses = frozenset(address.lower() for address in ({to} if to else came_to) if address)
    return replace(_answer(calendar, method), sender=who, to=addresses, is_vouched_for=is_sure)


def _parsed(mail: bytes) -> EmailMessage:
    message = message_from_bytes(mail, EmailMessage, policy=MeteredPolicy())
    assert isinstance(message, EmailMessage)  # noqa: S101  the stubs know only the older class
    return message


def _check_by_hand(message: EmailMessage, sender: str | None) -> None:
    """RFC 3834: what a machine sent is never answered, and an empty envelope is a bounce."""
    envelope = sender if sender is not None else message.get("Return-Path")
    automatic = str(message.get("Auto-Submitted", "no")).partition(";")[0].strip().lower() != "no"
    bulk = str(message.get("Precedence", "")).strip().lower() in {"bulk", "junk", "list"}
    if automatic or bulk or (envelope is not None and str(envelope).strip() in {"", "<>"}):
        raise Ignored(Reason.AUTOMATIC)


def _calendar_part(message: EmailMessage) -> tuple[str, str]:
    """The text and the method of the text/calendar part that has a method (RFC 6047 section 2.4).

    One more with the same text is the same answer, attached as a file.
    """
    parts = [
        part
        for part in message.walk()
        if part.get_content_type() == "text/calendar" and part.get_param("method")
    ]
    if not parts:
        raise Ignored(Reason.NO_ANSWER)
    found = [(_text(part), str(part.get_param("method")).upper()) for part in parts]
    if len({*found}) > 1:
        raise Ignored(Reason.MALFORMED)
    return found[0]


def _text(part: EmailMessage) -> str:
    """A calendar as written, with plain line ends; without the byte order mark that some programs put before it."""
    payload = part.get_payload(decode=True)
    if (
        not isinstance(payload, bytes)
        or len(payload) > MOST_CALENDAR
        or payload.count(b"\n") > _MOST_LINES
    ):
        raise Ignored(Reason.MALFORMED)
    decode = _DECODED_AS.get(lookup(part.get_content_charset() or "utf-8").name)
    if decode is None:
        raise Ignored(Reason.MALFORMED)
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
        raise Ignored(Reason.MALFORMED)
    return addresses[0].lower()


def _answer(written: str, method: str) -> Answer:
    try:
        calendar = Calendar.from_ical(written)
        events = [part for part in calendar.subcomponents if part.name != "VTIMEZONE"]
        if (
            str(calendar.get("METHOD", "")).upper() != method
            or len(events) != 1
            or events[0].name != "VEVENT"
        ):
            raise Ignored(Reason.MALFORMED)
        if method not in set(Method):
            raise Ignored(Reason.NO_ANSWER)
        return _of_event(events[0], Method(method))
    except Ignored:
        raise
    except Exception:  # whatever the library stumbles over in a stranger's calendar
        raise Ignored(Reason.MALFORMED) from None


def _of_event(event: Component, method: Method) -> Answer:
    """What the calendar says; who sent it, and to where, is the mail's to say."""
    attendee = event["ATTENDEE"]
    if not isinstance(attendee, vCalAddress) or "RECURRENCE-ID" in event or "RRULE" in event:
        raise Ignored(
            Reason.MALFORMED
        )  # one attendee answers (RFC 5546 section 3.2.3), and our meetings do not recur
    partstat = str(attendee.params.get("PARTSTAT", "")).upper() if method is Method.REPLY else ""
    sequence = int(str(event.get("SEQUENCE", 0)))
    if not 0 <= sequence < 2**31 or (method is Method.REPLY and partstat not in _ANSWERS):
        raise Ignored(Reason.MALFORMED)
    return Answer(
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
    """A date, or a time whose zone is not known, is no instant."""
    instant = getattr(event[name], "dt", None)
    if not isinstance(instant, datetime) or instant.tzinfo is None:
        raise Ignored(Reason.MALFORMED)
    return instant.astimezone(UTC)
