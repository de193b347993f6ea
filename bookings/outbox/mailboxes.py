"""The address to which one recipient's calendar answers about one meeting.

It cannot be guessed, because it has an HMAC of meeting and recipient. It stays the same for the
meeting's whole life, even if the school's address changes, because the meeting keeps the address
with a place for that key (Meeting.organizer). It is the ORGANIZER of the invitation, since a
calendar answers there and nowhere else (RFC 5546 section 3.2.3). SENT-BY is the school's own
address, which sends the email.
"""

import base64
import re

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

from bookings.calendars.events import Party
from bookings.models import Meeting

_KEY = re.compile(r"(?<!\d)(\d{1,15})-(\d{1,15})-([a-z2-7]{26})(?![a-z2-7])")


def asks_for_answers(meeting: Meeting) -> bool:
    """Whether answers about this meeting reach us, so that RSVP may ask for them."""
    return bool(settings.REPLY_ADDRESS) and "{key}" in meeting.organizer


def mailbox(meeting: Meeting, recipient_id: int) -> str:
    """The address; empty for a meeting made while answers could not reach us."""
    key = f"{meeting.pk}-{recipient_id}-{_seal(meeting.pk, recipient_id)}"
    return meeting.organizer.replace("{key}", key) if "{key}" in meeting.organizer else ""


def opened(address: str) -> tuple[int, int] | None:
    """The ids of meeting and recipient in an address; None without a key of ours.

    The caller compares the whole address with the `mailbox` of that meeting and recipient.
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
    """The ORGANIZER for this recipient, for the meeting's life (RFC 5546 section 3.2.2.5).

    Where it is not the school's address of today, SENT-BY has that one.
    """
    address = mailbox(meeting, recipient_id) or meeting.organizer
    if address == settings.ORGANIZER_EMAIL:
        return school()
    return Party(address, settings.SCHOOL_NAME, sent_by=settings.ORGANIZER_EMAIL)


def _seal(meeting_id: int, recipient_id: int) -> str:
    mac = salted_hmac(
        "bookings.mailbox", f"{meeting_id}-{recipient_id}", algorithm="sha256"
    ).digest()
    # 128 bits in base 32, because mail servers may change the case of an address.
    return base64.b32encode(mac[:16]).decode().rstrip("=").lower()
