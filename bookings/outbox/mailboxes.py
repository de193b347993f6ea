"""The address at which one recipient's calendar answers about one meeting: unguessable, the same
for the meeting's whole life.

Its key is an HMAC of meeting and recipient; where the key stands is kept with the meeting, so that
it stays when the school's address changes. It is the ORGANIZER of what she is sent, since a
calendar answers there and nowhere else (RFC 5546 section 3.2.3), with SENT-BY the school's own
address, which writes the mail.
"""

import base64
import re

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

from bookings.calendars.events import Party
from bookings.models import Meeting

_KEY = re.compile(r"(?<!\d)(\d{1,15})-(\d{1,15})-([a-z2-7]{26})(?![a-z2-7])")


def asks_for_answers(meeting: Meeting) -> bool:
    """Whether the school's mail server hands answers about this meeting on, so that RSVP may ask
    for them.
    """
    return bool(settings.REPLY_ADDRESS) and "{key}" in meeting.organizer


def mailbox(meeting: Meeting, recipient_id: int) -> str:
    """The address; empty where the meeting was made while the school's mail server handed no
    answers on.
    """
    key = f"{meeting.pk}-{recipient_id}-{_seal(meeting.pk, recipient_id)}"
    return meeting.organizer.replace("{key}", key) if "{key}" in meeting.organizer else ""


def opened(address: str) -> tuple[int, int] | None:
    """(meeting, recipient) whose key is in the address; None where there is none of ours.

    Whether the rest of it is right, the meeting tells: `mailbox` of that meeting and recipient.
    """
    found = _KEY.search(address.lower())
    if found is None:
        return None
    meeting_id, recipient_id = int(found[1]), int(found[2])
    is_ours = constant_time_compare(found[3], _seal(meeting_id, recipient_id))
    return (meeting_id, recipient_id) if is_ours else None


def school() -> Party:
    """The school's own address."""
    return Party(settings.ORGANIZER_EMAIL, settings.SCHOOL_NAME)


def organizer(meeting: Meeting, recipient_id: int) -> Party:
    """Who organises, as this recipient is told: one stable address per meeting (RFC 5546 section
    3.2.2.5).

    Where it is not the school's address of today, SENT-BY is.
    """
    address = mailbox(meeting, recipient_id) or meeting.organizer
    if address == settings.ORGANIZER_EMAIL:
        return school()
    return Party(address, settings.SCHOOL_NAME, sent_by=settings.ORGANIZER_EMAIL)


def _seal(meeting_id: int, recipient_id: int) -> str:
    mac = salted_hmac(
        "bookings.mailbox", f"{meeting_id}-{recipient_id}", algorithm="sha256"
    ).digest()
    return (
        base64.b32encode(mac[:16]).decode().rstrip("=").lower()
    )  # 128 bits; an address ignores case on many ways
