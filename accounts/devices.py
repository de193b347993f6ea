"""Devices that a person has signed in from before: a signed cookie gives its holder tries of their
own.

Source: OWASP, "Slow Down Online Guessing Attacks with Device Cookies". The cookie opens nothing and
names nobody. It holds a number of the device and a digest of each account that was used with it.
"""

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from allauth.account.signals import password_reset
from django.conf import settings
from django.contrib.auth.signals import user_logged_in
from django.core import signing
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from accounts.models import User

_SALT = "accounts.devices"
KEPT_SECONDS = 400 * 86400
"""As long as browsers keep any cookie (RFC 6265bis, section 5.5)."""
MOST_ACCOUNTS = 8
"""Enough for a family's browser. The account that was used longest ago is forgotten first."""


@dataclass(frozen=True, slots=True)
class Device:
    """A browser: its number, and the digests of its known accounts, the latest first."""

    number: str
    accounts: tuple[str, ...] = ()


def account_of(email: str) -> str:
    """A digest that stands for an account in counts and cookies.

    Spellings of an address that sign in alike have the same.
    """
    return salted_hmac(_SALT, email.strip().lower(), algorithm="sha256").hexdigest()[:32]


def device_of(request: HttpRequest) -> Device | None:
    """The device of the request's cookie; None without one, or without our signature."""
    value = request.COOKIES.get(settings.DEVICE_COOKIE_NAME, "")
    try:
        number, *accounts = signing.loads(value, salt=_SALT, max_age=KEPT_SECONDS)
    except (signing.BadSignature, ValueError):
        return None
    return Device(number, tuple(accounts))


def number_of_known(request: HttpRequest, email: str) -> str | None:
    """The number of the request's device, if the account has signed in with it before; else
    None.
    """
    device = device_of(request)
    return device.number if device and account_of(email) in device.accounts else None


class Devices:
    """Sets the cookie after somebody has signed in or set a new password by email."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self._get_response(request)
        user = getattr(request, "proven_user", None)
        if user is not None:
            _remember(request, response, user)
        return response


@receiver([user_logged_in, password_reset])
def note(request: HttpRequest | None, user: User, **_: Any) -> None:
    """Marks the request as coming from `user`: they have signed in fully, or read their email."""
    if request is not None:  # a command sets a password too
        request.proven_user = user  # type: ignore[attr-defined]


def _remember(request: HttpRequest, response: HttpResponse, user: User) -> None:
    device = device_of(request) or Device(secrets.token_urlsafe(16))
    account = account_of(user.email)
    others = [known for known in device.accounts if known != account]
    response.set_cookie(
        settings.DEVICE_COOKIE_NAME,
        signing.dumps([device.number, account, *others[: MOST_ACCOUNTS - 1]], salt=_SALT),
        max_age=KEPT_SECONDS,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
