"""Calendars: one's own subscription addresses, shown once."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.access import access_feed, access_instructor, access_roster_feed, instructor_of
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import FeedKind
from bookings.door import write
from bookings.models import Feed
from bookings.operations.subscriptions import open_feed, renew_feed, revoke_feed
from bookings.pages.acting import family, person, version_of
from bookings.pages.forms import FeedForm


@login_required
@require_http_methods(["GET", "POST"])
def calendars(request: HttpRequest) -> HttpResponse:
    """The addresses one has; POST opens another. The answer to the POST is the only page that shows it, so it is no redirect."""
    if request.method == "GET":
        return _page(request)
    form, user, now = FeedForm(request.POST), person(request), clock.now()
    if not form.is_valid():
        return _page(request, form=form, status=422)
    meeting_id, shows = form.cleaned_data["meeting"], form.cleaned_data["shows"]
    try:
        what: dict[str, Any] = (
            {"meeting": access_roster_feed(user, meeting_id, now=now)} if meeting_id else {}
        )
        if shows == FeedKind.FREE_BUSY:
            what["instructor"] = access_instructor(user)
        what["names_children"] = form.cleaned_data["names_children"]
        feed, secret = write(
            lambda: open_feed(actor=user, label=form.cleaned_data["label"], **what, now=now),
            now=now,
        )
    except Refused as refusal:
        return _page(request, refusal=refusal, form=form, status=refusal.status)
    return _page(request, shown=feed, address=_address(secret))


@login_required
@require_POST
def renew(request: HttpRequest, feed_id: int) -> HttpResponse:
    """A new address for the same calendar; the old one is nothing from now on."""
    now = clock.now()
    feed = access_feed(person(request), feed_id)
    try:
        version = version_of(request)
        kept, secret = write(
            lambda: renew_feed(actor=person(request), feed=feed, version=version, now=now), now=now
        )
    except Refused as refusal:
        return _page(request, refusal=refusal, status=refusal.status)
    return _page(request, shown=kept, address=_address(secret))


@login_required
@require_POST
def revoke(request: HttpRequest, feed_id: int) -> HttpResponse:
    """The address is nothing from now on."""
    now = clock.now()
    feed = access_feed(person(request), feed_id)
    try:
        version = version_of(request)
        write(
            lambda: revoke_feed(actor=person(request), feed=feed, version=version, now=now), now=now
        )
    except Refused as refusal:
        return _page(request, refusal=refusal, status=refusal.status)
    messages.success(request, f"Revoked: {feed.label}. That address shows nothing any more.")
    return redirect("calendars")


def _address(secret: str) -> str:
    return f"{settings.BASE_URL}/calendar/{secret}.ics"


def _page(
    request: HttpRequest, *, status: int = 200, form: FeedForm | None = None, **more: Any
) -> HttpResponse:
    user = person(request)
    feeds = Feed.objects.filter(owner=user, revoked_at__isnull=True).select_related(
        "meeting__offering", "instructor__user"
    )
    asked = {
        "form": form or FeedForm(),
        "teaches": instructor_of(user) is not None,
        "has_children": any(student.user_id != user.pk for student in family(user)),
    }
    return render(request, "calendars.html", {"feeds": feeds, **asked, **more}, status=status)
