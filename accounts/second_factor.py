"""The second factor: its stored secrets, who must have one, and when a session or token has passed
it.

The session that gave the code counts, not the account with a factor: the library notes in each
session how its owner signed in. A token counts if its owner had a factor when it was made, since
tokens are given in exchange for a code.
"""

import base64
import binascii
from datetime import datetime
from typing import Any

from allauth.account.authentication import get_authentication_records
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from cryptography.exceptions import InvalidTag
from django.conf import settings
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import HttpRequest

from accounts.models import Instructor, User
from accounts.sealed import open_sealed, seal

# The library passes a text without its row, so a sealed secret is bound only to its table.
BOUND_TO = "mfa_authenticator"


def seal_secret(text: str) -> str:
    """A TOTP secret or the seed of recovery codes, in the form that is stored."""
    return base64.b64encode(seal(text, BOUND_TO)).decode()


def open_secret(stored: str) -> str:
    """The stored secret in clear; InvalidTag if no key of NOTE_KEYS sealed it."""
    try:
        return open_sealed(base64.b64decode(stored, validate=True), BOUND_TO)
    except binascii.Error as error:
        raise InvalidTag from error


class SealedFactors(DefaultMFAAdapter):
    """Seals the secrets of second factors for the library, so that none lies in the database in
    clear.
    """

    def encrypt(self, text: str) -> str:
        return seal_secret(text)

    def decrypt(self, encrypted_text: str) -> str:
        return open_secret(encrypted_text)


def is_required(user: User) -> bool:
    """Whether this person must have a second factor here, because they read other families'
    records.
    """
    if not settings.SECOND_FACTOR_REQUIRED:
        return False
    return user.is_staff or Instructor.objects.teaching().filter(user=user).exists()


def people_without_factor() -> QuerySet[User]:
    """Open accounts that must have a second factor here and have none yet; none where it is not
    required.
    """
    if not settings.SECOND_FACTOR_REQUIRED:
        return User.objects.none()
    teaching = Instructor.objects.teaching().filter(user=OuterRef("pk"))
    factors = Authenticator.objects.filter(user=OuterRef("pk"), type=Authenticator.Type.TOTP)
    must_have = Q(is_staff=True) | Q(Exists(teaching))
    return User.objects.filter(must_have, ~Exists(factors), is_active=True)


def factors_of(user: User) -> QuerySet[Authenticator]:
    """The apps that show codes for this person. Recovery codes alone are no factor."""
    return Authenticator.objects.filter(user=user, type=Authenticator.Type.TOTP)


def codes_of(user: User) -> list[Any]:
    """The objects that can check a code of this person: their app and their recovery codes."""
    rows = Authenticator.objects.filter(user=user)
    return [row.wrap() for row in rows.exclude(type=Authenticator.Type.WEBAUTHN)]


def session_counts(request: HttpRequest, user: User) -> bool:
    """Whether this session may act for `user`.

    It may if it gave the code of a factor that is still there, or if none is needed.
    """
    if not is_required(user):
        return True
    records = get_authentication_records(request, user)
    return any(record["method"] == "mfa" for record in records) and factors_of(user).exists()


def token_counts(user: User, made_at: datetime) -> bool:
    """Whether a token made then may act for `user`: it was given for a code, or none is needed."""
    return not is_required(user) or factors_of(user).filter(created_at__lte=made_at).exists()
