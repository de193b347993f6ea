"""Accounts with a second factor, and the codes they type."""

from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import (
    TOTP,
    format_hotp_value,
    generate_totp_secret,
    hotp_value,
    yield_hotp_counters_from_time,
)

from accounts.models import User


def code(secret: str) -> str:
    """What an authenticator app shows now (RFC 6238)."""
    return format_hotp_value(hotp_value(secret, next(yield_hotp_counters_from_time())))


def with_factor(user: User) -> str:
    """Gives the person an authenticator app and recovery codes; the app's secret."""
    secret = generate_totp_secret()
    TOTP.activate(user, secret)
    RecoveryCodes.activate(user)
    return secret
