"""A new calendar address between the form that made it and the one page that shows it.

The address waits in the session on the server, sealed. It is in no cookie, URL or log.
"""

import base64
from datetime import datetime, timedelta

from cryptography.exceptions import InvalidTag
from django.http import HttpRequest

from accounts.sealed import open_sealed, seal
from bookings.models import Feed
from bookings.pages.signed_in import user_of

_KEPT = "address_shown_once"
GOOD_FOR = timedelta(minutes=10)


def keep_address(request: HttpRequest, feed: Feed, address: str, *, now: datetime) -> None:
    """Keeps the address for the next time this person opens Calendars, within GOOD_FOR."""
    sealed = seal(address, _bound_to(request, feed))
    request.session[_KEPT] = {
        "feed": feed.pk,
        "until": (now + GOOD_FOR).isoformat(),
        "sealed": base64.b64encode(sealed).decode(),
    }


def take_address(
    request: HttpRequest, feeds: list[Feed], *, now: datetime
) -> tuple[Feed, str] | None:
    """The feed and its address, once.

    None if none waits, it waited longer than GOOD_FOR, or the feed has a newer address.
    """
    kept = request.session.pop(_KEPT, None)
    feed = next((feed for feed in feeds if kept and feed.pk == kept["feed"]), None)
    if kept is None or feed is None or datetime.fromisoformat(kept["until"]) < now:
        return None
    try:
        return feed, open_sealed(base64.b64decode(kept["sealed"]), _bound_to(request, feed))
    except InvalidTag:
        return None


def _bound_to(request: HttpRequest, feed: Feed) -> str:
    return f"feed address:{user_of(request).pk}:{feed.pk}:{feed.version}"
