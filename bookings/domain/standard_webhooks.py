"""How a delivery is signed, after the Standard Webhooks specification 1.0.0.

Its section "Signature scheme": HMAC-SHA256 with the secret over id, timestamp and body, joined by
full stops. The receiver takes any one of the signatures, so a secret can be changed without a gap.
"""

import base64
import binascii
import hashlib
import hmac
import secrets
from collections.abc import Iterable
from datetime import timedelta

PREFIX = "whsec_"
FEWEST_BYTES, MOST_BYTES, OUR_BYTES = 24, 64, 32
"""How long a secret may be by the specification, and how long ours are."""
OVERLAP = timedelta(hours=24)
"""How long deliveries are also signed with the secret before the newest."""


def new_signing_secret() -> str:
    """A random secret in its written form: the prefix and base64."""
    return PREFIX + base64.b64encode(secrets.token_bytes(OUR_BYTES)).decode()


def key_of(secret: str) -> bytes:
    """The bytes of a secret, written with or without its prefix. ValueError for any other text."""
    try:
        key = base64.b64decode(secret.removeprefix(PREFIX), validate=True)
    except binascii.Error as error:
        raise ValueError("a secret is base64 after its prefix") from error
    if not FEWEST_BYTES <= len(key) <= MOST_BYTES:
        raise ValueError(f"a secret has {FEWEST_BYTES} to {MOST_BYTES} bytes")
    return key


def signature(secret: str, event_id: str, timestamp: int, body: bytes) -> str:
    """One signature: "v1," and base64. `timestamp` is in seconds since 1970, of this attempt."""
    signed = f"{event_id}.{timestamp}.".encode() + body
    made = hmac.new(key_of(secret), signed, hashlib.sha256).digest()
    return "v1," + base64.b64encode(made).decode()


def header_fields(
    secrets_held: Iterable[str], event_id: str, timestamp: int, body: bytes
) -> dict[str, str]:
    """The three header fields of a delivery, with one signature for each secret."""
    signed = [signature(secret, event_id, timestamp, body) for secret in secrets_held]
    return {
        "webhook-id": event_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signed),
    }
