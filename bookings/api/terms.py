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
from bookings.api.output import Output, paged
from bookings.api.paging import PageAsked, page
from bookings.api.time_fields import Day
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import Term
from bookings.operations.terms import change_term, publish_term
from bookings.queries.terms import terms_with_breaks

MOST_BREAKS = 30


class BreakForm(Strict):
    """Days without lessons, first and last included."""

    first_on = Day()
    last_on = Day()
    name = Line(max_length=80, required=False, allow_blank=True, default="")


class TermForm(Strict):
    """A term. Its dates are those of each instructor's calendar.

    It promises a count of lessons, not of weeks. Until `flex_last_on`, the last day of a flex week,
    its make-up lessons may be taken, or longer by the policy's days.
    """

    name = Line(max_length=80)
    first_on = Day()
    last_on = Day()
    lessons_promised = Whole(min_value=1, max_value=400)
    flex_last_on = Day(required=False, allow_null=True)
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
    flex_last_on = serializers.DateField(allow_null=True)
    breaks = BreakOutput(many=True)


class ChangedTermOutput(TermOutput):
    """The changed term.

    `left_outside` holds the lessons of weekly places that are now outside it. They are kept until
    somebody moves them.
    """

    left_outside = MeetingOutput(many=True)


class TermsAsked(PageAsked):
    """All of them."""

    order = ("first_on", "id")
    in_order = "By the first day."


class Terms(ApiView):
    """The school's terms."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "terms", scope=Scope.READ_CALENDAR, parameters=[TermsAsked], responses=paged(TermOutput)
    )
    def get(self, request: Request) -> Response:
        asked(request, TermsAsked)
        return page(request, TermsAsked, terms_with_breaks(), TermOutput.of_all)

    @operation(
        "publish_term",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        request=TermForm,
        responses={201: TermOutput},
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

    @operation("term", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=TermOutput)
    def get(self, request: Request, pk: int) -> Response:
        term = access.access_term(pk)
        return Response(TermOutput.of(term), headers=_tag(term))

    @operation(
        "change_term",
        scope=PEOPLE,
        headers=("ETag",),
        request=TermChange,
        responses=ChangedTermOutput,
    )
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
