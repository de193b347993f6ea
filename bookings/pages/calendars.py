"""Calendars: one's own subscription addresses, shown once."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.access import access_feed
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Feed
from bookings.operations.subscriptions import open_feed, renew_feed, revoke_feed
from bookings.pages.acting import person
from bookings.pages.forms import PlainText


@login_required
@require_http_methods(["GET", "POST"])
def calendars(request: HttpRequest) -> HttpResponse:
    """The addresses one has; POST opens another. The answer to the POST is the only page that shows it, so it is no redirect."""
    if request.method == "GET":
        return _page(request)
    label, now = PlainText(required=False).clean(request.POST.get("label", "")), clock.now()
    try:
        feed, secret = write(lambda: open_feed(actor=person(request), label=label, now=now), now=now)
    except Refused as refusal:
        return _page(request, refusal=refusal, label=label, status=refusal.status)
    return _page(request, shown=feed, address=_address(secret))


@login_required
@require_POST
def renew(request: HttpRequest, feed_id: int) -> HttpResponse:
    """A new address for the same calendar; the old one is nothing from now on."""
    feed, now = access_feed(person(request), feed_id), clock.now()
    kept, secret = write(lambda: renew_feed(actor=person(request), feed=feed, now=now), now=now)
    return _page(request, shown=kept, address=_address(secret))


@login_required
@require_POST
def revoke(request: HttpRequest, feed_id: int) -> HttpResponse:
    """The address is nothing from now on."""
    feed, now = access_feed(person(request), feed_id), clock.now()
    write(lambda: revoke_feed(actor=person(request), feed=feed, now=now), now=now)
    messages.success(request, f"Revoked: {feed.label}. That address shows nothing any more.")
    return redirect("calendars")


def _address(secret: str) -> str:
    return f"{settings.BASE_URL}/calendar/{secret}.ics"


def _page(request: HttpRequest, *, status: int = 200, **more: Any) -> HttpResponse:
    feeds = Feed.objects.filter(owner=person(request), revoked_at__isnull=True)
    return render(request, "calendars.html", {"feeds": feeds, **more}, status=status)
