"""The calendar feed: a secret address that calendars fetch again and again, without signing in.

Most fetches find nothing new. So the validators come from one row, and no calendar is written for
them (RFC 9110 section 13).
"""

import gzip
import hashlib
from contextlib import suppress
from datetime import datetime, timedelta

from django.core.cache import cache
from django.http import HttpRequest, HttpResponse, HttpResponseNotFound, HttpResponseNotModified
from django.urls import URLPattern, path
from django.utils.http import http_date, parse_etags, parse_http_date_safe
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_safe

from bookings import clock, door
from bookings.domain.errors import Refused
from bookings.models import Feed
from bookings.operations.subscriptions import is_worth_noting, note_fetch
from bookings.queries import calendars

KEPT_SECONDS = (
    24 * 3600
)  # the window moves at midnight UTC, so no bytes are needed for longer than a day


@csrf_exempt
@require_safe
def calendar_feed(request: HttpRequest, secret: str) -> HttpResponse:
    """GET and HEAD. Unknown and revoked addresses and those of people who left look alike and cost
    one indexed query.
    """
    now = clock.now()
    found = calendars.open_feed_of(secret)
    response = _nothing(request) if found is None else _answer(request, found, now)
    response["Cache-Control"] = "private, max-age=300"
    response["X-Robots-Tag"] = "noindex"
    response["Referrer-Policy"] = "no-referrer"
    if found is not None and is_worth_noting(found, now):
        with suppress(Refused):  # the database is busy; another fetch will come
            door.write(lambda: note_fetch(feed=found, now=now), now=now)
    return response


def _nothing(request: HttpRequest) -> HttpResponse:
    """404.

    For a HEAD the body is left out: gunicorn would drop it and write a warning each time.
    """
    body = b"Nothing here.\n"
    response = HttpResponseNotFound(
        b"" if request.method == "HEAD" else body, content_type="text/plain"
    )
    response["Content-Length"] = str(len(body))
    return response


def _answer(request: HttpRequest, found: Feed, now: datetime) -> HttpResponse:
    coding = "gzip" if _takes_gzip(request.headers.get("Accept-Encoding", "")) else ""
    # A strong ETag names bytes, so the compressed ones have their own (RFC 9110 section 8.8.3.3).
    state = calendars.state_of(found, now=now)
    etag = hashlib.sha256(f"{state.text}:{coding}".encode()).hexdigest()[:32]
    modified = _last_modified(state.since, now)
    if _is_known(request, f'"{etag}"', modified):
        response: HttpResponse = HttpResponseNotModified()
    else:
        body = _kept(etag, found, coding, now)
        response = HttpResponse(
            b"" if request.method == "HEAD" else body, content_type="text/calendar; charset=utf-8"
        )
        response["Content-Length"] = str(len(body))
        response["Content-Disposition"] = 'inline; filename="lessons.ics"'
        if coding:
            response["Content-Encoding"] = coding
    response["ETag"] = f'"{etag}"'
    response["Vary"] = "Accept-Encoding"
    if modified is not None:
        response["Last-Modified"] = http_date(modified)
    return response


def _kept(etag: str, found: Feed, coding: str, now: datetime) -> bytes:
    key = f"feed:{etag}"
    body: bytes | None = cache.get(key)
    if body is None:
        body = calendars.feed_bytes(found, now=now)
        if coding:
            body = gzip.compress(body, mtime=0)
        cache.set(key, body, KEPT_SECONDS)
    return body


def _last_modified(changed: datetime | None, now: datetime) -> int | None:
    """POSIX seconds of the last change, rounded up; None if no change is stored, and while it lies
    ahead.

    Rounding up keeps a second change within one second from hiding behind the first. RFC 9110
    section 8.8.2.1 forbids dates in the future, so a feed that changed in this very second has
    none.
    """
    if changed is None:
        return None
    whole = changed.replace(microsecond=0)
    if changed > whole:
        whole += timedelta(seconds=1)
    return int(whole.timestamp()) if whole <= now else None


def _is_known(request: HttpRequest, etag: str, modified: int | None) -> bool:
    """Whether the caller has this version: If-None-Match by weak comparison, else the date.

    RFC 9110 sections 13.1.2 and 13.1.3.
    """
    asked = request.headers.get("If-None-Match")
    if asked is not None:
        return asked.strip() == "*" or etag in {
            known.removeprefix("W/") for known in parse_etags(asked)
        }
    since = parse_http_date_safe(request.headers.get("If-Modified-Since", ""))
    return since is not None and modified is not None and modified <= since


def _takes_gzip(accepted: str) -> bool:
    """Whether gzip is named with a weight above zero (RFC 9110 section 12.5.3).

    "*" alone gets plain bytes, which is allowed.
    """
    for part in accepted.lower().split(","):
        coding, _, weight = part.replace(" ", "").partition(";q=")
        if coding == "gzip":
            return weight.strip("0.") != "" if weight else True
    return False


urlpatterns: list[URLPattern] = [path("<str:secret>.ics", calendar_feed, name="calendar-feed")]
