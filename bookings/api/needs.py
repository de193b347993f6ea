"""What needs an admin now, counted, in the words of the page."""

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import clock
from bookings.api.operation import operation
from bookings.api.output import Output
from bookings.api.views import ApiView, me
from bookings.domain.needs import Need
from bookings.domain.scopes import PEOPLE
from bookings.queries.needs import Needed, needs_now


class NeedOutput(Output):
    """So many things of one kind need an admin now."""

    need = serializers.ChoiceField(choices=[need.value for need in Need])
    count = serializers.IntegerField()


class NeedsOutput(Output):
    """What needs an admin now, in the order of the page; kinds without any are left out."""

    needs = NeedOutput(many=True)

    def get_needs(self, found: list[Needed]) -> list[Needed]:
        return found


class NeedsNow(ApiView):
    """What needs an admin now."""

    @operation("needs", scope=PEOPLE, refused=(403,), responses=NeedsOutput)
    def get(self, request: Request) -> Response:
        found = needs_now(me(request), now=clock.now())
        return Response(NeedsOutput.of(found))
