"""The mail that carries an invitation (RFC 6047), made with the standard library."""

from datetime import datetime
from email.header import Header
from email.headerregistry import Address, AddressHeader
from email.message import EmailMessage
from email.policy import EmailPolicy
from email.utils import format_datetime
from typing import Any

from bookings.calendars.events import Party
from bookings.calendars.html import in_html
from bookings.calendars.text import ADDRESS, clean, one_line


class _Policy(EmailPolicy):
    """Writes subjects, and names beyond plain ASCII, with email.header.

    The newer writer loses the space between two encoded words (RFC 2047), loses a quote where it
    folds a quoted name, and leaves the first line of a long header empty, so that a Message-ID is
    not folded at all.
    """

    def fold(self, name: str, value: Any) -> str:
        return _encoded(name, value, self.linesep) or super().fold(name, value)

    def fold_binary(self, name: str, value: Any) -> bytes:
        return _encoded(name, value, self.linesep).encode() or super().fold_binary(name, value)


def _encoded(name: str, value: Any, line_end: str) -> str:
    """The folded field in encoded words, or "" for a field that needs none."""
    text, is_address = str(value), isinstance(value, AddressHeader)
    if name == "Message-ID":
        return f"{name}: {text}{line_end}"
    if text.isascii() and name != "Subject" and not (is_address and '"' in text):
        return ""
    field = Header(header_name=name)
    if is_address:
        for address in value.addresses:
            field.append(address.display_name, "utf-8")
            field.append(f"<{address.addr_spec}>", "us-ascii")
    else:
        field.append(text, "us-ascii" if text.isascii() else "utf-8")
    return f"{name}: {field.encode(linesep=line_end)}{line_end}"


# No server on the way needs 8BITMIME (RFC 6047 section 2.5).
_POLICY = _Policy(linesep="\r\n", cte_type="7bit")


def invitation_mail(
    *,
    subject: str,
    body: str,
    sender: Party,
    recipient: Party,
    message_id: str,
    calendar: bytes | None,
    method: str | None,
    date: datetime,
    site: str = "",
) -> EmailMessage:
    """A message to one person: plain text and HTML, and with `calendar` also text/calendar and an
    attached file.

    `message_id` has its angle brackets, `date` is aware, `method` equals METHOD in `calendar` (RFC
    6047 section 2.4); both are None for a message without one. ValueError where these do not fit.
    `site` is how the addresses of our own pages begin.
    """
    message = _headed(subject, sender, recipient, message_id, date)
    # From the plainest to the richest (RFC 2046 section 5.1.4): the words, the same words in HTML,
    # the meeting.
    message.set_content(clean(body))
    message.add_alternative(in_html(subject, body, site=site), "html")
    if calendar is None and method is None:
        return message
    if calendar is None or method is None or f"\r\nMETHOD:{method}\r\n".encode() not in calendar:
        raise ValueError("the method must equal METHOD in the calendar")
    message.add_alternative(
        calendar, "text", "calendar", params={"method": method, "charset": "UTF-8"}
    )
    message.add_attachment(calendar, "application", "ics", filename="meeting.ics")
    return message


def _headed(
    subject: str, sender: Party, recipient: Party, message_id: str, date: datetime
) -> EmailMessage:
    if message_id[:1] != "<" or message_id[-1:] != ">" or not ADDRESS.fullmatch(message_id[1:-1]):
        raise ValueError("a Message-ID is <left@right> without spaces")
    if date.tzinfo is None:
        raise ValueError("a mail takes an aware date")
    message = EmailMessage(policy=_POLICY)
    message["From"] = _mailbox(sender)
    message["To"] = _mailbox(recipient)
    message["Subject"] = one_line(subject)
    message["Date"] = format_datetime(date)
    message["Message-ID"] = message_id
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: no absence note answers it
    return message


def _mailbox(party: Party) -> Address:
    return Address(one_line(party.name), addr_spec=party.email)
