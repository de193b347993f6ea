"""Text sealed at rest: AES-256-GCM with the row and column as associated data (NIST SP 800-38D)."""

import base64
import os

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings


def _keys() -> list[AESGCM]:
    return [AESGCM(base64.b64decode(key)) for key in settings.NOTE_KEYS]


def seal(text: str, bound_to: str) -> bytes:
    """`text` encrypted under the newest key, to be opened only with the same `bound_to`.

    Empty text stays empty.
    """
    if not text:
        return b""
    nonce = os.urandom(12)
    return nonce + _keys()[0].encrypt(nonce, text.encode(), bound_to.encode())


def open_sealed(sealed: bytes, bound_to: str) -> str:
    """The text, decrypted with the key that fits.

    InvalidTag if none fits or the bytes belong to another place.
    """
    return open_with_key(sealed, bound_to)[0] if sealed else ""


def open_with_key(sealed: bytes, bound_to: str) -> tuple[str, int]:
    """The text, and the place of the key that fits in NOTE_KEYS: 0 is the newest.

    InvalidTag as `open_sealed`.
    """
    for place, key in enumerate(_keys()):
        try:
            return key.decrypt(sealed[:12], sealed[12:], bound_to.encode()).decode(), place
        except (InvalidTag, ValueError):  # ValueError: too short to have been sealed at all
            continue
    raise InvalidTag
