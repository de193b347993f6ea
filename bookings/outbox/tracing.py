"""Which email of ours a report of a mail server is about.

A report comes from a stranger. It counts only where it holds a seal that nobody can guess and only
those have seen who had the email in hand: in its return path, which is the envelope's sender, or in
its Message-ID. A seal holds for one message to one address.
"""

import base64
import re
from collections.abc import Iterable

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

from bookings.models import OutboxMessage

_RETURN_KEY = re.compile(r"(?<![a-z0-9])b([0-9]{1,15})-([a-z2-7]{26})(?![a-z2-7])")
# ASCII alone: no database takes NUL or half of a surrogate pair, and a stranger may write both.
_MESSAGE_ID = re.compile(
    r"<(?P<left>[A-Za-z0-9.-]+\.(?P<reader>[0-9]{1,15}))\.[a-z2-7]{26}@[!-;=?A-~]+>"
)


def sealed_id(left: str, address: str) -> str:
    """A Message-ID for a message to this address; `left` ends with a dot and the recipient's id."""
    domain = settings.ORGANIZER_EMAIL.rpartition("@")[2]
    return f"<{left}.{_seal('message-id', left, address)}@{domain}>"


def id_for(message_id: str, address: str) -> str:
    """The Message-ID of the same message to another address."""
    found = _MESSAGE_ID.fullmatch(message_id)
    return sealed_id(found["left"], address) if found else message_id


def return_path(message: OutboxMessage) -> str:
    """Where mail servers report about this message: the sender in its envelope."""
    if not settings.BOUNCE_ADDRESS:
        return settings.ORGANIZER_EMAIL
    return settings.BOUNCE_ADDRESS.replace("{key}", f"b{message.pk}-{_return_seal(message)}")


def traced(addresses: Iterable[str], message_ids: Iterable[str]) -> OutboxMessage | None:
    """The message whose return path or Message-ID is among these; None where there is none, or
    where it has been sent to another address since.
    """
    for address in addresses:
        found = _RETURN_KEY.search(address.lower())
        row = found and _row(pk=int(found[1]))
        if found and row and constant_time_compare(found[2], _return_seal(row)):
            return row
    for message_id in message_ids:
        named = _MESSAGE_ID.fullmatch(message_id)
        row = named and _row(recipient=int(named["reader"]), message_id=message_id)
        if named and row and constant_time_compare(id_for(message_id, row.to_address), message_id):
            return row
    return None


def _row(**wanted: object) -> OutboxMessage | None:
    return OutboxMessage.objects.select_related("recipient").filter(**wanted).first()


def _return_seal(message: OutboxMessage) -> str:
    # With the Message-ID, so that it holds for no other row that has this number after a restore.
    return _seal("return-path", message.message_id, message.to_address)


def _seal(use: str, *parts: str) -> str:
    mac = salted_hmac(f"bookings.tracing.{use}", "\n".join(parts), algorithm="sha256").digest()
    # 128 bits in base 32, because mail servers may change the case of an address.
    return base64.b32encode(mac[:16]).decode().rstrip("=").lower()
