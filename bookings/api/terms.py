"""Terms: everybody reads them, admins publish and change them."""

from datetime import date, datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import Line, Strict, Whole
from bookings.api.meeting_serializers import MeetingOutput, shown_meetings
from bookings.api.operation import operation
from bookings.api.output import Output, listed
from bookings.api.time_fields import Day
from bookings.api.views import ApiView, body, me
from bookings.models import Term
from bookings.operations.terms import change_term, publish_term
from bookings.queries.terms import all_terms

MOST_BREAKS = 30


class BreakForm(Strict):
    """Days without lessons, first and last included."""

    first_on = Day()
    last_on = Day()
    name = Line(max_length=80, required=False, allow_blank=True, default="")


class TermForm(Strict):
    """A term. Its dates are those of each instructor's calendar.

    It promises a count of lessons, not of weeks.
    """

    name = Line(max_length=80)
    first_on = Day()
    last_on = Day()
    lessons_promised = Whole(min_value=1, max_value=400)
    breaks: Any = serializers.ListSerializer(
        child=BreakForm(), max_length=MOST_BREAKS, required=False
    )


class TermChange(TermForm):
    """What is to change; `breaks` replaces all of them."""

    name = Line(max_length=80, required=False)
    first_on = Day(required=False)
    last_on = Day(required=False)
    lessons_promised = Whole(min_value=1, max_value=400, required=False)


class BreakOutput(Output):
    """Days of a term without lessons."""

    first_on = serializers.DateField()
    last_on = serializers.DateField()
    name = serializers.CharField()


class TermOutput(Output):
    """A term."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    lessons_promised = serializers.IntegerField()
    breaks = BreakOutput(many=True)


class ChangedTermOutput(TermOutput):
    """The changed term.

    `left_outside` holds the lessons of weekly places that are now outside it. They are kept until
    somebody moves them.
    """

    left_outside = MeetingOutput(many=True)


class Terms(ApiView):
    """The school's terms."""

    bodies = {"POST"}

    @operation("terms", responses=listed(TermOutput))
    def get(self, request: Request) -> Response:
        return Response({"results": TermOutput.of_all(reversed(all_terms()))})

    @operation(
        "publish_term", headers=("ETag", "Location"), request=TermForm, responses={201: TermOutput}
    )
    def post(self, request: Request) -> HttpResponseBase:
        access.require_admin(me(request))
        sent = _with_breaks(body(request, TermForm))

        def act(now: datetime) -> Result:
            term = publish_term(actor=me(request), now=now, **sent)
            return Result(201, TermOutput.of(term), {**location("terms", term.pk), **_tag(term)})

        return answered(request, act)


class OneTerm(ApiView):
    """One term."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation("term", headers=("ETag",), responses=TermOutput)
    def get(self, request: Request, pk: int) -> Response:
        term = access.access_term(pk)
        return Response(TermOutput.of(term), headers=_tag(term))

    @operation("change_term", headers=("ETag",), request=TermChange, responses=ChangedTermOutput)
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        access.require_admin(me(request))
        sent = _with_breaks(body(request, TermChange))

        def act(now: datetime) -> Result:
            term = access.access_term(pk)
            changed = change_term(
                actor=me(request),
                term=term,
                version=version_asked(request, "term", pk, term.version),
                now=now,
                **sent,
            )
            left_outside = shown_meetings(changed.left_outside, me(request))
            return Result(
                200,
                {**TermOutput.of(changed.term), "left_outside": left_outside},
                _tag(changed.term),
            )

        return answered(request, act)


def _with_breaks(sent: dict[str, Any]) -> dict[str, Any]:
    if "breaks" not in sent:
        return sent
    breaks: list[tuple[date, date, str]] = [
        (row["first_on"], row["last_on"], row["name"]) for row in sent["breaks"]
    ]
    return {**sent, "breaks": breaks}


def _tag(term: Term) -> dict[str, str]:
    return {"ETag": etag("term", term.pk, term.version)}
