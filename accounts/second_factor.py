"""The second factor: how its secrets lie in the database."""

import base64
import binascii

from allauth.mfa.adapter import DefaultMFAAdapter
from cryptography.exceptions import InvalidTag

from accounts.sealed import open_sealed, seal

# The library hands over a text without its row, so a sealed secret is bound to its table and no closer.
BOUND_TO = "mfa_authenticator"


def seal_secret(text: str) -> str:
    """A TOTP secret or the seed of recovery codes, as it is stored."""
    return base64.b64encode(seal(text, BOUND_TO)).decode()


def open_secret(stored: str) -> str:
    """The secret as it was; InvalidTag where it was not sealed under any of NOTE_KEYS."""
    try:
        return open_sealed(base64.b64decode(stored, validate=True), BOUND_TO)
    except binascii.Error as error:
        raise InvalidTag from error


class SealedFactors(DefaultMFAAdapter):
    """The library's door to the secrets of second factors: none lies in the database in clear."""

    def encrypt(self, text: str) -> str:
        return seal_secret(text)

    def decrypt(self, encrypted_text: str) -> str:
        return open_secret(encrypted_text)
