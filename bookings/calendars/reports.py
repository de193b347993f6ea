"""What a mail server reports about an email of ours, read strictly: that it was not delivered (RFC
3464), or that its reader complained of it (RFC 5965).

A report comes from a stranger. It is read here; whether it is about an email of ours is decided
where the emails are stored. No text of it is kept but the status code.
"""

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from email.message import EmailMessage
from email.utils import getaddresses
from enum import StrEnum

from bookings.calendars.ignoring import Ignored, WhyIgnored, parsed
from bookings.calendars.mail_headers import written

_MOST_RECIPIENTS = 20
_LONGEST = 254
_STATUS = re.compile(r"\s*([245]\.\d{1,3}\.\d{1,3})(?![\d.])", re.ASCII)
_COMMENT = re.compile(r"\([^()]*\)")
_COMPLAINTS = {"abuse", "fraud"}
"""The feedback types of RFC 5965 section 7.3 by which a reader says that an email is unwanted."""


class Action(StrEnum):
    """What became of an email to one recipient (RFC 3464 section 2.3.3)."""

    FAILED = "failed"
    DELAYED = "delayed"
    DELIVERED = "delivered"
    RELAYED = "relayed"
    EXPANDED = "expanded"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of an email to one recipient.

    `addresses` are the recipient as it was sent to and as it was forwarded to, in lower case.
    `status` is that of RFC 3463 without comments, empty where it is missing or none.
    """

    addresses: list[str]
    action: Action
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MailReport:
    """One report about one email.

    `to` are the addresses, in lower case, to which the report came or from which the email was
    sent: the email's return path is among them. `message_ids` are those of the returned email. A
    complaint has no `outcomes`.
    """

    to: list[str]
    message_ids: list[str]
    outcomes: list[Outcome]
    is_complaint: bool = False

    def as_text(self) -> str:
        """JSON that `from_text` reads."""
        return json.dumps(asdict(self))

    @classmethod
    def from_text(cls, text: str) -> "MailReport":
        """The report that `as_text` wrote."""
        told = json.loads(text)
        outcomes = [Outcome(**{**one, "action": Action(one["action"])}) for one in told["outcomes"]]
        return cls(**{**told, "outcomes": outcomes})


def read_report(mail: bytes, *, to: str = "", sender: str | None = None) -> MailReport | None:
    """The report in a mail; None for a mail that is no report.

    `to` and `sender` are the envelope's, if the mail server gives them. Raises Ignored for a report
    that is malformed, reports nothing bad, or has a sender where it must have none.
    """
    if b"multipart/report" not in mail.lower():
        return None
    try:
        message = parsed(mail)
        if message.get_content_type() != "multipart/report":
            return None
        parts = {part.get_content_type(): part for part in _parts(message)}
        if "message/delivery-status" in parts:
            _check_has_no_sender(message, sender)
            return _failure(message, parts, to)
        if "message/feedback-report" in parts:
            return _complaint(message, parts, to)
        return None
    except (ValueError, LookupError, AttributeError, TypeError, RecursionError):
        raise Ignored(WhyIgnored.MALFORMED) from None


def _parts(message: EmailMessage) -> list[EmailMessage]:
    """What a part is made of: parts, a returned email, or groups of fields."""
    payload = message.get_payload()
    if not isinstance(payload, list):
        raise ValueError("no parts")
    return [part for part in payload if isinstance(part, EmailMessage)]


def _check_has_no_sender(message: EmailMessage, sender: str | None) -> None:
    """A report of a delivery has an empty envelope sender (RFC 3464 section 2); some servers write
    a name in its place when they hand the mail on.
    """
    envelope = sender if sender is not None else next(written(message, "Return-Path"), "")
    name = envelope.strip().strip("<>").lower().partition("@")[0]
    if name not in {"", "mailer-daemon"}:
        raise Ignored(WhyIgnored.UNKNOWN_SENDER)


def _failure(message: EmailMessage, parts: dict[str, EmailMessage], to: str) -> MailReport:
    _, *blocks = _blocks(parts["message/delivery-status"])
    outcomes = [_outcome(block) for block in blocks[:_MOST_RECIPIENTS]]
    if not outcomes:
        raise Ignored(WhyIgnored.MALFORMED)
    returned = _returned(parts)
    return MailReport(
        to=_came_to(message, to) + _addresses(_all(returned, "Return-Path")),
        message_ids=_ids(returned),
        outcomes=outcomes,
    )


def _complaint(message: EmailMessage, parts: dict[str, EmailMessage], to: str) -> MailReport:
    (fields,) = _blocks(parts["message/feedback-report"])
    if _word(fields, "Feedback-Type") not in _COMPLAINTS:
        raise Ignored(WhyIgnored.NO_ANSWER)
    returned = _returned(parts)
    sent_from = [*_all(fields, "Original-Mail-From"), *_all(returned, "Return-Path")]
    return MailReport(
        to=_came_to(message, to) + _addresses(sent_from),
        message_ids=_ids(returned),
        outcomes=[],
        is_complaint=True,
    )


def _blocks(part: EmailMessage) -> list[EmailMessage]:
    """The groups of fields of a part of type message/..., apart by blank lines."""
    return [block for block in _parts(part) if block.keys()]


def _outcome(block: EmailMessage) -> Outcome:
    fields = [*_all(block, "Original-Recipient"), *_all(block, "Final-Recipient")]
    status = _STATUS.match(next(written(block, "Status"), ""))
    return Outcome(
        addresses=_addresses(field.partition(";")[2] for field in fields),
        action=Action(_word(block, "Action")),
        status=status[1] if status else "",
    )


def _word(fields: EmailMessage, name: str) -> str:
    """The only field of that name, without comments, in lower case. ValueError without one."""
    (value,) = written(fields, name)
    return " ".join(_COMMENT.sub(" ", value[:_LONGEST]).split()).lower()


def _returned(parts: dict[str, EmailMessage]) -> EmailMessage:
    """The returned email, or its headers; an empty one where none was returned."""
    for kind, part in parts.items():
        if kind == "message/rfc822":
            (returned,) = _parts(part)
            return returned
        if kind == "text/rfc822-headers":
            return parsed(str(part.get_payload()).encode(errors="replace"))
    return EmailMessage()


def _came_to(message: EmailMessage, to: str) -> list[str]:
    if to:
        return _addresses([to])
    names = ("Delivered-To", "X-Original-To", "To")
    return _addresses(line for name in names for line in written(message, name))


def _all(message: EmailMessage, name: str) -> Iterator[str]:
    return (value[:_LONGEST] for value in written(message, name))


def _ids(returned: EmailMessage) -> list[str]:
    return [value.strip() for value in _all(returned, "Message-ID")][:1]


def _addresses(lines: Iterable[str]) -> list[str]:
    found = [address.lower() for _, address in getaddresses([line.strip() for line in lines])]
    return [address for address in found if "@" in address][:_MOST_RECIPIENTS]
