"""The mail that carries an invitation (RFC 6047), made with the standard library."""

from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime

from bookings.calendars.events import Party
from bookings.calendars.html import in_html
from bookings.calendars.text import ADDRESS, clean, one_line

_POLICY = SMTP.clone(cte_type="7bit")  # no server on the way needs 8BITMIME (RFC 6047 section 2.5)


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
) -> EmailMessage:
    """A message to one person: plain text, and with `calendar` also HTML, text/calendar and an attached file.

    `message_id` comes with its angle brackets, `date` is aware, `method` equals METHOD in `calendar` (RFC 6047 section 2.4);
    both are None for plain text. Raises ValueError where they do not fit.
    """
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
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: nobody's absence note answers it
    message.set_content(clean(body))
    if calendar is None and method is None:
        return message
    if calendar is None or method is None or f"\r\nMETHOD:{method}\r\n".encode() not in calendar:
        raise ValueError("the method must equal METHOD in the calendar")
    # Ordered from the plainest to the richest (RFC 2046 section 5.1.4): words, the same words in HTML, the meeting itself.
    message.add_alternative(in_html(subject, body), "html")
    message.add_alternative(calendar, "text", "calendar", params={"method": method, "charset": "UTF-8"})
    message.add_attachment(calendar, "application", "ics", filename="meeting.ics")
    return message


def _mailbox(party: Party) -> Address:
    return Address(one_line(party.name), addr_spec=party.email)
