"""Forms sent after a session had ended: kept until their writer has signed in again.

A form is sealed in the shared cache for 30 minutes, one a device, and bound to the device and to
the account that was signed in there last. The browser holds no more than the number of its device.
A form written before somebody else signed in is no danger: signing in changes the token against
forged forms, so an older form is refused before it comes here.
"""

import json
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

from allauth.account.signals import password_reset
from cryptography.exceptions import InvalidTag
from django.contrib.auth.signals import user_logged_in
from django.core.cache import cache
from django.dispatch import receiver
from django.http import HttpRequest
from django.middleware.csrf import rotate_token
from django.utils.http import url_has_allowed_host_and_scheme

from accounts.devices import Device, account_of, device_of
from accounts.models import User
from accounts.sealed import open_sealed, seal

KEPT_FOR = timedelta(minutes=30)
# Forms that hold passwords, codes, secret addresses or the office's records.
_NEVER = (
    "/accounts/",
    "/welcome/",
    "/consent/",
    "/new-address/",
    "/office/",
    "/busy-calendars/",
    "/api/",
)
_SECRETS = ("password", "secret", "code", "token", "csrf")


@dataclass(frozen=True, slots=True)
class KeptForm:
    """A form that was sent: the page it stands on, the address it goes to, and its values."""

    page: str
    sent_to: str
    values: dict[str, list[str]]


def keep(request: HttpRequest) -> KeptForm | None:
    """Keeps the form that this request sent; None where nothing is kept.

    Call it for a request of nobody who is signed in. Files are not kept.
    """
    device = device_of(request)
    if device is None or not device.accounts or request.path.startswith(_NEVER):
        return None
    values = {
        name: [str(value) for value in texts]
        for name, texts in request.POST.lists()
        if not any(word in name.lower() for word in _SECRETS)
    }
    form = KeptForm(_page(request), request.path, values)
    text = json.dumps([form.page, form.sent_to, form.values])
    sealed = seal(text, _bound_to(device, device.accounts[0]))
    cache.set(_key(device), sealed, KEPT_FOR.total_seconds())
    return form


def kept_for(request: HttpRequest, user: User) -> KeptForm | None:
    """What this person wrote in this browser."""
    device = device_of(request)
    sealed = cache.get(_key(device)) if device is not None else None
    if device is None or sealed is None:
        return None
    try:
        text = open_sealed(sealed, _bound_to(device, account_of(user.email)))
    except InvalidTag:
        return None
    return KeptForm(*json.loads(text))


def destroy(request: HttpRequest) -> None:
    """Nothing is kept in this browser any more."""
    device = device_of(request)
    if device is not None:
        cache.delete(_key(device))


def destroy_unless(request: HttpRequest, user: User) -> None:
    """Destroys what somebody other than `user` wrote."""
    if kept_for(request, user) is None:
        destroy(request)


@receiver([user_logged_in, password_reset])
def _somebody_is_proven(request: HttpRequest | None, user: User, **_: Any) -> None:
    """Somebody has shown who they are in this browser: what another person wrote there is gone."""
    if request is not None:
        destroy_unless(request, user)
        rotate_token(request)  # a form that stood open before is refused, whoever wrote it


def _page(request: HttpRequest) -> str:
    """The page on which the form stood: an address that takes forms may show none itself."""
    told = request.headers.get("Referer", "")
    parts = urlsplit(told)
    if url_has_allowed_host_and_scheme(told, {request.get_host()}) and parts.path:
        return f"{parts.path}?{parts.query}" if parts.query else parts.path
    return request.get_full_path()


def _key(device: Device) -> str:
    return f"kept-form:{device.number}"


def _bound_to(device: Device, account: str) -> str:
    return f"kept form:{device.number}:{account}"
