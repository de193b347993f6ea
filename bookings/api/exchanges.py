"""Exchanges of weekly places: what a family is asked, and its yes or no."""

from collections.abc import Callable
from datetime import datetime

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.exchange_serializers import ExchangeOutput, ExchangesAsked
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.paging import page
from bookings.api.views import ApiView, asked, me
from bookings.domain.scopes import PEOPLE
from bookings.models import ExchangeMove
from bookings.operations.exchanges import accept_exchange, decline_exchange
from bookings.queries.exchanges import with_places


class Exchanges(ApiView):
    """What one is asked for one's own weekly places and one's children's."""

    queries = {"GET"}

    @operation(
        "exchanges", scope=PEOPLE, parameters=[ExchangesAsked], responses=paged(ExchangeOutput)
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, ExchangesAsked), me(request)
        rows = with_places(access.exchange_moves_of(user, now=clock.now()))
        rows = ExchangesAsked.narrowed(rows, wanted, user)
        return page(request, ExchangesAsked, rows, ExchangeOutput.of_all)


class OneExchange(ApiView):
    """One question."""

    @operation("exchange", scope=PEOPLE, headers=("ETag",), responses=ExchangeOutput)
    def get(self, request: Request, pk: int) -> Response:
        move = access.access_exchange_move(me(request), pk, now=clock.now())
        return Response(ExchangeOutput.of(move), headers=_tag(move))


class _Answering(ApiView):
    """An answer to a question that somebody has read."""

    if_match = {"POST": NEEDED}

    def said(self, request: Request, pk: int, say: Callable[..., ExchangeMove]) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            move = access.access_exchange_move(user, pk, now=now)
            version = version_asked(request, "exchange", pk, move.version)
            said = say(actor=user, move=move, version=version, now=now)
            headers = {**location("exchanges", pk), **_tag(said)}
            return Result(200, ExchangeOutput.of(said), headers)

        return answered(request, act)


class AcceptingExchange(_Answering):
    """Says yes. With the last yes all places change hands together."""

    @operation(
        "accept_exchange",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=ExchangeOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return self.said(request, pk, accept_exchange)


class DecliningExchange(_Answering):
    """Says no, also after a yes. Every place stays as it is."""

    @operation(
        "decline_exchange",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=ExchangeOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return self.said(request, pk, decline_exchange)


def _tag(move: ExchangeMove) -> dict[str, str]:
    return {"ETag": etag("exchange", move.pk, move.version)}
