"""The address at which one recipient's calendar answers about one meeting: unguessable, the same for the meeting's whole life.

It is an HMAC of meeting and recipient, so nothing is stored. It is the ORGANIZER of what she is sent, since a calendar answers
there and nowhere else (RFC 5546 section 3.2.3), with SENT-BY the school's own address, which writes the mail.
"""

import base64
import re

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

from bookings.calendars.events import Party

_KEY = r"(\d{1,15})-(\d{1,15})-([a-z2-7]{26})"


def asks_for_answers() -> bool:
    """Whether the school's mail server hands answers on, so that RSVP may ask for them."""
    return bool(settings.REPLY_ADDRESS)


def mailbox(meeting_id: int, recipient_id: int) -> str:
    """The address; empty where the school's mail server hands no answers on."""
    pattern: str = settings.REPLY_ADDRESS
    return (
        pattern.replace("{key}", f"{meeting_id}-{recipient_id}-{_seal(meeting_id, recipient_id)}")
        if pattern
        else ""
    )


def opened(address: str) -> tuple[int, int] | None:
    """(meeting, recipient) of an address that is one of ours; None for any other."""
    before, _, after = settings.REPLY_ADDRESS.lower().partition("{key}")
    found = (
        re.fullmatch(re.escape(before) + _KEY + re.escape(after), address.lower())
        if before or after
        else None
    )
    if found is None:
        return None
    meeting_id, recipient_id = int(found[1]), int(found[2])
    return (
        (meeting_id, recipient_id)
        if constant_time_compare(found[3], _seal(meeting_id, recipient_id))
        else None
    )


def school() -> Party:
    """The school's own address."""
    return Party(settings.ORGANIZER_EMAIL, settings.SCHOOL_NAME)


def organizer(meeting_id: int, recipient_id: int) -> Party:
    """Who organises, as this recipient is told: one stable address per meeting (RFC 5546 section 3.2.2.5)."""
    address = mailbox(meeting_id, recipient_id)
    if not address:
        return school()
    return Party(address, settings.SCHOOL_NAME, sent_by=settings.ORGANIZER_EMAIL)


def _seal(meeting_id: int, recipient_id: int) -> str:
    mac = salted_hmac(
        "bookings.mailbox", f"{meeting_id}-{recipient_id}", algorithm="sha256"
    ).digest()
    return (
        base64.b32encode(mac[:16]).decode().rstrip("=").lower()
    )  # 128 bits; an address ignores case on many ways
