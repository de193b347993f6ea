"""The order of other families' weekly times that a family would rather have than its own."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.exchange_serializers import WishesForm, WishesOutput
from bookings.api.operation import operation
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import PEOPLE
from bookings.models import WeeklyPlace, WishOrder
from bookings.operations.wishes import wish_for_times
from bookings.queries.wishes import order_of, other_times


class Wishes(ApiView):
    """The wishes for one weekly place. Whose the other times are, nobody is told."""

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation("wishes", scope=PEOPLE, headers=("ETag",), refused=(403,), responses=WishesOutput)
    def get(self, request: Request, pk: int) -> Response:
        user, now = me(request), clock.now()
        place = access.access_own_weekly_place(user, pk, now=now)
        order = order_of(place)
        return Response(_shown(place, order, user, now), headers=_tag(order))

    @operation(
        "wish_for_times",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403, 409),
        request=WishesForm,
        responses=WishesOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, WishesForm), me(request)

        def act(now: datetime) -> Result:
            place = access.access_own_weekly_place(user, pk, now=now)
            version = version_asked(request, "wishes", pk, order_of(place).version)
            order = wish_for_times(
                actor=user, place=place, wished=sent["weekly_places"], version=version, now=now
            )
            return Result(200, _shown(place, order, user, now), _tag(order))

        return answered(request, act)


def _shown(place: WeeklyPlace, order: WishOrder, user: User, now: datetime) -> dict[str, object]:
    return WishesOutput.of(order, reader=user, offered=other_times(place, now=now))


def _tag(order: WishOrder) -> dict[str, str]:
    return {"ETag": etag("wishes", order.place_id, order.version)}
