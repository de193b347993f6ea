"""Devices that a person has signed in from before: a signed cookie that gives its holder tries of
their own.

Source: OWASP, "Slow Down Online Guessing Attacks with Device Cookies". The cookie is no key: it
opens nothing, and it names nobody. It holds a number of the device and a digest of each account
that it has been used for.
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
"""A family's browser; the account that was used longest ago is forgotten first."""


@dataclass(frozen=True, slots=True)
class Device:
    """A browser by its number, and the accounts that it is known for, the latest first."""

    number: str
    accounts: tuple[str, ...] = ()


def account_of(email: str) -> str:
    """What stands for an account in counts and cookies, in any spelling of its address that signs
    in."""
    return salted_hmac(_SALT, email.strip().lower(), algorithm="sha256").hexdigest()[:32]


def device_of(request: HttpRequest) -> Device | None:
    """The device that this request's cookie is for; None without one, or where we did not sign
    it."""
    value = request.COOKIES.get(settings.DEVICE_COOKIE_NAME, "")
    try:
        number, *accounts = signing.loads(value, salt=_SALT, max_age=KEPT_SECONDS)
    except (signing.BadSignature, ValueError):
        return None
    return Device(number, tuple(accounts))


def number_of_known(request: HttpRequest, email: str) -> str | None:
    """The number of this request's device where the account has been signed in to with it; else
    None."""
    device = device_of(request)
    return device.number if device and account_of(email) in device.accounts else None


class Devices:
    """Gives the browser its cookie when somebody has signed in or set a new password by email."""

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
    """This request has shown that it comes from `user`: by all that signing in asks for, or by
    reading their email."""
    if request is not None:  # a command sets a password too
        request.proven_user = user  # type: ignore[attr-defined]


def _remember(request: HttpRequest, response: HttpResponse, user: User) -> None:
    device, account = (
        device_of(request) or Device(secrets.token_urlsafe(16)),
        account_of(user.email),
    )
    others = [known for known in device.accounts if known != account]
    response.set_cookie(
        settings.DEVICE_COOKIE_NAME,
        signing.dumps([device.number, account, *others[: MOST_ACCOUNTS - 1]], salt=_SALT),
        max_age=KEPT_SECONDS,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
