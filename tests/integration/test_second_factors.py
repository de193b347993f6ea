"""Secrets of second factors: sealed in the database, and opened with any key."""

import base64
import secrets

import pytest
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from cryptography.exceptions import InvalidTag
from django.db import connection

from tests.cast import make_admin

pytestmark = pytest.mark.django_db


def stored() -> str:
    """What a reader of the table, or of a dump of it, sees of every second factor."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT data FROM mfa_authenticator ORDER BY id")
        return str(cursor.fetchall())


def key() -> str:
    """A new one of NOTE_KEYS."""
    return base64.b64encode(secrets.token_bytes(32)).decode()


def test_no_secret_of_a_second_factor_lies_in_clear() -> None:
    """Neither the secret of an authenticator app nor a recovery code can be made from the table.

    Source: OWASP Authentication and Cryptographic Storage Cheat Sheets.
    """
    user, secret = make_admin(), generate_totp_secret()
    TOTP.activate(user, secret)
    codes = RecoveryCodes.activate(user)
    assert secret not in stored()
    assert codes.instance.data["seed"] != codes.generate_seed()
    assert not set(codes.instance.data["seed"]) <= set("0123456789abcdef")  # hex, as it is made
    assert len(codes.get_unused_codes()) == 10


def test_two_people_with_one_secret_have_nothing_in_common() -> None:
    """Each sealing has a nonce of its own, so equal secrets do not show as equal rows."""
    secret = generate_totp_secret()
    rows = [TOTP.activate(make_admin(), secret).instance.data["secret"] for _ in range(2)]
    assert rows[0] != rows[1]


def test_a_factor_works_under_a_new_key_while_the_old_one_is_kept(settings: object) -> None:
    """A new first key seals what comes; what an older one sealed is opened with it, and with no
    other.
    """
    user = make_admin()
    before = RecoveryCodes.activate(user).get_unused_codes()
    old = list(settings.NOTE_KEYS)  # type: ignore[attr-defined]
    settings.NOTE_KEYS = [key(), *old]  # type: ignore[attr-defined]
    assert RecoveryCodes.activate(user).get_unused_codes() == before
    settings.NOTE_KEYS = [key()]  # type: ignore[attr-defined]
    with pytest.raises(InvalidTag):
        RecoveryCodes.activate(user).get_unused_codes()
