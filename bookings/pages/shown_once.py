"""A new secret between the form that made it and the one page that shows it.

It waits in the session on the server, sealed. It is in no cookie, address or log.
"""

import base64
from datetime import datetime, timedelta

from cryptography.exceptions import InvalidTag
from django.http import HttpRequest

from accounts.sealed import open_sealed, seal
from bookings.pages.signed_in import user_of

GOOD_FOR = timedelta(minutes=10)


def keep_secret(request: HttpRequest, of: str, secret: str, *, now: datetime) -> None:
    """Keeps the secret `of` a thing, such as "webhook:7", for the page that shows it next."""
    sealed = seal(secret, _bound_to(request, of))
    request.session[_key(of)] = {
        "until": (now + GOOD_FOR).isoformat(),
        "sealed": base64.b64encode(sealed).decode(),
    }


def take_secret(request: HttpRequest, of: str, *, now: datetime) -> str:
    """The secret, once; empty if none waits, or it waited longer than GOOD_FOR."""
    kept = request.session.pop(_key(of), None)
    if kept is None or datetime.fromisoformat(kept["until"]) < now:
        return ""
    try:
        return open_sealed(base64.b64decode(kept["sealed"]), _bound_to(request, of))
    except InvalidTag:
        return ""


def _key(of: str) -> str:
    return f"shown_once:{of}"


def _bound_to(request: HttpRequest, of: str) -> str:
    return f"shown once:{user_of(request).pk}:{of}"
