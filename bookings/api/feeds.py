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
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Line, Strict, TrueOrFalse
from bookings.api.named import pointing_at, whose_time
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import an_instructor
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import FeedKind
from bookings.models import Feed, Meeting
from bookings.operations.subscriptions import open_feed, renew_feed, revoke_feed
from bookings.queries.feeds import feeds_of


class FeedForm(Strict):
    """A feed shows the reader's own meetings. `name` says, for example, which device reads it.

    With `meeting`, for admins, it shows how many are in that meeting. With `instructor`, for that
    instructor and admins, it shows when they are busy. Guardians choose whether their children's
    first names are in it.
    """

    name = Line(max_length=60)
    meeting = Id(required=False)
    instructor = Id(required=False)
    names_children = TrueOrFalse(required=False, default=False)


class FeedOutput(Output):
    """A subscription. A calendar may lag a day behind: mail carries what is urgent."""

    id = serializers.IntegerField()
    name = serializers.CharField(source="label")
    kind = serializers.ChoiceField([kind.value for kind in FeedKind])
    meeting = serializers.IntegerField(source="meeting_id", allow_null=True)
    instructor = an_instructor(allow_null=True)
    names_children = serializers.BooleanField()
    opened_at = Utc()
    fetched_at = Utc(allow_null=True)


class OpenedFeed(FeedOutput):
    """The same with its secret address, shown this once."""

    address = serializers.URLField()

    def get_address(self, feed: Feed) -> str:
        return f"{settings.BASE_URL}/calendar/{self.context['secret']}.ics"


class FeedsAsked(PageAsked):
    """Those of one kind."""

    order = ("id",)
    in_order = "The oldest comes first."
    narrows = {"kind": "kind"}
    kind = serializers.ChoiceField([kind.value for kind in FeedKind], required=False)


class Feeds(ApiView):
    """One's own subscriptions."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation("feeds", scope=PEOPLE, parameters=[FeedsAsked], responses=paged(FeedOutput))
    def get(self, request: Request) -> Response:
        wanted = asked(request, FeedsAsked)
        rows = FeedsAsked.narrowed(feeds_of(me(request)), wanted, me(request))
        return page(request, FeedsAsked, rows, FeedOutput.of_all)

    @operation(
        "open_feed",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=FeedForm,
        responses={201: OpenedFeed},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, FeedForm), me(request)

        def act(now: datetime) -> Result:
            opened = open_feed(
                actor=user,
                label=sent["name"],
                meeting=_counted(user, sent, now),
                instructor=whose_time(user, sent) if "instructor" in sent else None,
                names_children=sent["names_children"],
                now=now,
            )
            return _opened(*opened, status=201)

        return answered(request, act)


class OneFeed(ApiView):
    """One subscription."""

    if_match = {"DELETE": NEEDED}

    @operation("feed", scope=PEOPLE, headers=("ETag",), responses=FeedOutput)
    def get(self, request: Request, pk: int) -> Response:
        feed = access.access_feed(me(request), pk)
        return Response(FeedOutput.of(feed), headers=_tag(feed))

    @operation("revoke_feed", scope=PEOPLE, responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            feed, version = _own(request, pk)
            revoke_feed(actor=me(request), feed=feed, version=version, now=now)
            return Result(204)

        return answered(request, act)


class RenewingFeed(ApiView):
    """A new address; the old one shows nothing from now on."""

    if_match = {"POST": NEEDED}

    @operation(
        "renew_feed",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=OpenedFeed,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            feed, version = _own(request, pk)
            return _opened(*renew_feed(actor=me(request), feed=feed, version=version, now=now))

        return answered(request, act)


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


def _opened(feed: Feed, secret: str, *, status: int = 200) -> Result:
    return Result(
        status,
        OpenedFeed.of(feed, secret=secret),
        {**location("feeds", feed.pk), **_tag(feed)},
        kept=False,
    )
