"""Calendar subscriptions. The secret address is shown once, when it is made or renewed."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.conf import settings
from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access
from bookings.api.calls import Call, body, me
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Answer, write
from bookings.api.fields import Id, Line, Strict, TrueOrFalse, utc
from bookings.api.named import named_time, pointing_at
from bookings.api.operation import operation
from bookings.api.references import Named, shown_instructor
from bookings.domain.vocabulary import FeedKind
from bookings.models import Feed, Meeting
from bookings.operations.subscriptions import open_feed, renew_feed, revoke_feed


class FeedForm(Strict):
    """What to call it, such as the device that reads it. It shows one's own meetings; with `meeting`, for admins, how many are in
    it; with `instructor`, for her and admins, when she is taken. Guardians choose whether their children's first names stand in it."""

    name = Line(max_length=60)
    meeting = Id(required=False)
    instructor = Id(required=False)
    names_children = TrueOrFalse(required=False, default=False)


class FeedShape(serializers.Serializer):
    """A subscription. A calendar may lag a day behind: mail carries what is urgent."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    kind = serializers.ChoiceField([kind.value for kind in FeedKind])
    meeting = serializers.IntegerField(allow_null=True)
    instructor = Named(allow_null=True)
    names_children = serializers.BooleanField()
    opened_at = serializers.DateTimeField()
    fetched_at = serializers.DateTimeField(allow_null=True)


class OpenedFeed(FeedShape):
    """The same with its secret address, shown this once."""

    address = serializers.URLField()


class FeedList(serializers.Serializer):
    """All that are open."""

    results = FeedShape(many=True)


class Feeds(Call):
    """One's own subscriptions."""

    bodies = {"POST"}

    @operation("feeds", responses=FeedList)
    def get(self, request: Request) -> Response:
        return Response({"results": [_shown(feed) for feed in access.feeds_of(me(request))]})

    @operation(
        "open_feed",
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=FeedForm,
        responses={201: OpenedFeed},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, FeedForm), me(request)

        def act(now: datetime) -> Answer:
            opened = open_feed(
                actor=user,
                label=sent["name"],
                meeting=_counted(user, sent, now),
                instructor=named_time(user, sent) if "instructor" in sent else None,
                names_children=sent["names_children"],
                now=now,
            )
            return _opened(*opened, status=201)

        return write(request, act)


class OneFeed(Call):
    """One subscription."""

    if_match = {"DELETE": NEEDED}

    @operation("feed", headers=("ETag",), responses=FeedShape)
    def get(self, request: Request, pk: int) -> Response:
        feed = access.access_feed(me(request), pk)
        return Response(_shown(feed), headers=_tag(feed))

    @operation("revoke_feed", responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Answer:
            feed, version = _own(request, pk)
            revoke_feed(actor=me(request), feed=feed, version=version, now=now)
            return Answer(204)

        return write(request, act)


class RenewingFeed(Call):
    """A new address; the old one shows nothing from now on."""

    if_match = {"POST": NEEDED}

    @operation(
        "renew_feed",
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=OpenedFeed,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Answer:
            feed, version = _own(request, pk)
            return _opened(*renew_feed(actor=me(request), feed=feed, version=version, now=now))

        return write(request, act)


def _counted(user: User, sent: Mapping[str, Any], now: datetime) -> Meeting | None:
    """The meeting whose places the feed counts, where it is one of a roster."""
    if "meeting" not in sent:
        return None
    with pointing_at("meeting"):
        return access.access_roster_feed(user, sent["meeting"], now=now)


def _own(request: Request, pk: int) -> tuple[Feed, int | None]:
    """The caller's feed and the version that If-Match names."""
    feed = access.access_feed(me(request), pk)
    return feed, version_asked(request, "feed", pk, feed.version)


def _tag(feed: Feed) -> dict[str, str]:
    return {"ETag": etag("feed", feed.pk, feed.version)}


def _shown(feed: Feed) -> dict[str, Any]:
    return {
        "id": feed.pk,
        "name": feed.label,
        "kind": feed.kind,
        "meeting": feed.meeting_id,
        "instructor": shown_instructor(feed.instructor) if feed.instructor else None,
        "names_children": feed.names_children,
        "opened_at": utc(feed.opened_at),
        "fetched_at": None if feed.fetched_at is None else utc(feed.fetched_at),
    }


def _opened(feed: Feed, secret: str, *, status: int = 200) -> Answer:
    address = f"{settings.BASE_URL}/calendar/{secret}.ics"
    return Answer(
        status,
        {**_shown(feed), "address": address},
        {"Location": f"/api/v1/feeds/{feed.pk}/", **_tag(feed)},
        kept=False,
    )
