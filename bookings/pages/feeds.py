"""Calendars: a person's own feeds. The address of a feed is shown once, after it was made."""

from typing import Any
from uuid import uuid4

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_feed, access_instructor, access_roster_feed, instructor_of
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import FeedKind
from bookings.door import write
from bookings.models import Feed
from bookings.operations.subscriptions import open_feed, renew_feed, revoke_feed
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.feed_addresses import keep_address, take_address
from bookings.pages.forms.feeds import FeedForm
from bookings.pages.parameters import read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import family, user_of
from bookings.pages.templatetags.formatting import day_and_time
from bookings.queries.feeds import feeds_of


@login_required
@require_http_methods(["GET", "POST"])
def calendars(request: HttpRequest) -> HttpResponse:
    """GET lists a person's feeds, and shows a new address once; POST opens another feed."""
    if request.method == "GET":
        return _page(request)
    form = FeedForm(request.POST)
    if not form.is_valid():
        return _page(request, form=form)
    try:
        _open(request, form.cleaned_data)
    except Refused as refusal:
        if refusal.code == "already-done":  # the same form once more
            return redirect("calendars")
        return _page(request, refusal=refusal, form=form)
    return redirect("calendars")


@login_required
@require_http_methods(["GET", "POST"])
def renew(request: HttpRequest, feed_id: int) -> HttpResponse:
    """GET asks for confirmation; POST makes a new address for the feed and ends the old one."""
    feed, now = access_feed(user_of(request), feed_id), clock.now()
    if request.method == "GET":
        follows = [
            "The old address stops working at once. Add the new one to every calendar program"
            " that uses the old one.",
            _read(request, feed),
        ]
        return confirmation_page(
            request,
            _question(feed, f"A new address for “{feed.label}”?", follows, "Make a new address"),
        )
    try:
        version = read_version(request)
        kept, secret = write(
            lambda: renew_feed(actor=user_of(request), feed=feed, version=version, now=now), now=now
        )
    except Refused as refusal:
        return _page(request, refusal=refusal)
    keep_address(request, kept, _address(secret), now=now)
    return redirect("calendars")


@login_required
@require_http_methods(["GET", "POST"])
def revoke(request: HttpRequest, feed_id: int) -> HttpResponse:
    """GET says what stops working and asks for confirmation; POST ends the address."""
    feed, now = access_feed(user_of(request), feed_id), clock.now()
    if request.method == "GET":
        follows = [
            "Every calendar program that uses this address stops being updated at once.",
            "What it has read already may stay in it until you remove it there.",
            _read(request, feed),
            "Nothing that you have booked changes, and you still get emails. The address cannot"
            " be brought back, but you can make another.",
        ]
        return confirmation_page(
            request, _question(feed, f"Revoke “{feed.label}”?", follows, "Revoke the address")
        )
    try:
        version = read_version(request)
        write(
            lambda: revoke_feed(actor=user_of(request), feed=feed, version=version, now=now),
            now=now,
        )
    except Refused as refusal:
        return _page(request, refusal=refusal)
    messages.success(request, f"Revoked: {feed.label}. That address shows nothing any more.")
    return redirect("calendars")


def _open(request: HttpRequest, values: dict[str, Any]) -> None:
    user, now = user_of(request), clock.now()
    what: dict[str, Any] = {}
    if values["meeting"]:
        what["meeting"] = access_roster_feed(user, values["meeting"], now=now)
    if values["shows"] == FeedKind.FREE_BUSY:
        what["instructor"] = access_instructor(user)
    feed, secret = write(
        lambda: open_feed(
            actor=user,
            label=values["label"],
            names_children=values["names_children"],
            uid=values["uid"],
            **what,
            now=now,
        ),
        now=now,
    )
    keep_address(request, feed, _address(secret), now=now)


def _address(secret: str) -> str:
    return f"{settings.BASE_URL}/calendar/{secret}.ics"


def _question(feed: Feed, title: str, follows: list[str], button: str) -> Question:
    return Question(title, follows, button, reverse("calendars"), {"version": feed.version})


def _read(request: HttpRequest, feed: Feed) -> str:
    if feed.fetched_at is None:
        return "No calendar program has read it yet."
    read_at = day_and_time(feed.fetched_at, user_of(request).zone)
    return f"A calendar program last read it on {read_at}."


def _page(
    request: HttpRequest, *, form: FeedForm | None = None, refusal: Refused | None = None
) -> HttpResponse:
    user = user_of(request)
    feeds = list(feeds_of(user))
    shown, address = take_address(request, feeds, now=clock.now()) or (None, "")
    context = {
        "feeds": feeds,
        "shown": shown,
        "address": address,
        "form": form or FeedForm(initial={"uid": uuid4()}),
        "teaches": instructor_of(user) is not None,
        "has_children": any(student.user_id != user.pk for student in family(user)),
        "refusal": refusal,
    }
    return show(request, "levare/calendars.html", context)
