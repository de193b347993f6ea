"""The techniques that notes of an offering look at: everybody reads them, admins replace them."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.fields import Line, Strict
from bookings.api.operation import operation
from bookings.api.output import Output
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.domain.techniques import LONGEST_NAME, MOST_TECHNIQUES
from bookings.models import Offering
from bookings.operations.techniques import replace_techniques
from bookings.queries.techniques import techniques_of


class TechniquesForm(Strict):
    """The whole list, in the order in which a note shows it."""

    techniques = serializers.ListField(
        child=Line(max_length=LONGEST_NAME), min_length=1, max_length=MOST_TECHNIQUES
    )


class TechniquesOutput(Output):
    """The techniques of one offering, in order."""

    techniques = serializers.ListField(child=serializers.CharField())

    def get_techniques(self, techniques: list[str]) -> list[str]:
        return techniques


class Techniques(ApiView):
    """The techniques to which a note may give bands.

    An offering for which the school has written no list has the usual one of strings.
    """

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation(
        "techniques", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=TechniquesOutput
    )
    def get(self, request: Request, pk: int) -> Response:
        found = techniques_of(access.access_offering(pk))
        return Response(TechniquesOutput.of(found), headers=_tag(pk, found))

    @operation(
        "replace_techniques",
        scope=PEOPLE,
        headers=("ETag",),
        request=TechniquesForm,
        responses=TechniquesOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        access.require_admin(me(request))
        sent = body(request, TechniquesForm)["techniques"]

        def act(now: datetime) -> Result:
            offering = access.access_offering(pk)
            seen = _seen(request, offering)
            kept = replace_techniques(
                actor=me(request), offering=offering, names=sent, seen=seen, now=now
            )
            return Result(200, TechniquesOutput.of(kept), _tag(pk, kept))

        return answered(request, act)


def _seen(request: Request, offering: Offering) -> list[str] | None:
    """The list if If-Match names it, None for `*`. Refused("stale") where it names another."""
    found = techniques_of(offering)
    return found if names(request, _tag(offering.pk, found)["ETag"]) else None


def _tag(pk: int, techniques: list[str]) -> dict[str, str]:
    return {"ETag": etag_of("techniques", pk, techniques)}
