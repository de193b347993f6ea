"""The days away of an instructor. An admin names the instructor."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.addresses import location
from bookings.api.clearing import MOST_DECISIONS, DecisionForm, became_of, decisions_of
from bookings.api.conditions import HONOURED, etag, names
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, Id, Line, Strict
from bookings.api.hours import asked_instructor
from bookings.api.meeting_serializers import MeetingOutput, shown_meetings
from bookings.api.named import whose_time
from bookings.api.operation import operation
from bookings.api.output import Output, ZoneName, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import an_instructor
from bookings.api.time_fields import Day, WindowTime, Zone
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import DaysAway
from bookings.operations.days_away import come_back, go_away
from bookings.queries.teaching import zone_of_hours


class CallOffForm(Strict):
    """`call_off_reason` is a sentence for everybody in the meetings that stand in the way.

    With a reason they are called off. Without one the request is refused.
    """

    wire = {"call_off_why": "call_off_reason"}
    call_off_why = Line(max_length=200, required=False)


class DaysAwayForm(CallOffForm):
    """First and last day, both included; without a zone, that of the week.

    If there are meetings on those days, nothing is written and 409 `has-bookings` lists them,
    unless `call_off_reason` says why all of them are called off, or `decisions` what becomes of
    each, as in `POST cleared-hours/`.
    """

    wire = {**CallOffForm.wire, "seen": "meetings_digest"}
    seen = Line(max_length=64, required=False)
    decisions: Any = serializers.ListField(
        child=DecisionForm(), max_length=MOST_DECISIONS, required=False
    )
    instructor = Id(required=False)
    first_on = Day()
    last_on = Day()
    time_zone = Zone(required=False)


class DaysAwayOutput(Output):
    """Days on which nothing new is offered: from `from_time` of the first to `to_time` of the last.

    Whole days are from 00:00 to 24:00; other times are cleared hours.
    """

    id = serializers.IntegerField()
    instructor = an_instructor()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    from_time = WindowTime(source="from_minute")
    to_time = WindowTime(source="to_minute")
    time_zone = ZoneName()


class WentAwayOutput(DaysAwayOutput):
    """The days away and what became of the meetings on them.

    `left_outside` holds the one-on-ones that are otherwise outside the teaching hours. They are
    kept.
    """

    called_off = MeetingOutput(many=True)
    covered = MeetingOutput(many=True)
    moved = MeetingOutput(many=True)
    left_outside = MeetingOutput(many=True)


class DaysAwayAsked(PageAsked):
    """The instructor whose time is meant; the caller where left out."""

    order = ("first_on", "id")
    in_order = "By the first day."
    instructor = AskedId(required=False)


class AllDaysAway(ApiView):
    """Days on which an instructor does not teach."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "days_away",
        scope=Scope.READ_CALENDAR,
        refused=(403, 404),
        parameters=[DaysAwayAsked],
        responses=paged(DaysAwayOutput),
    )
    def get(self, request: Request) -> Response:
        wanted = asked(request, DaysAwayAsked)
        rows = whose_time(me(request), wanted).days_away.select_related("instructor__user")
        return page(request, DaysAwayAsked, rows, DaysAwayOutput.of_all)

    @operation(
        "go_away",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(404, 409, 412),
        request=DaysAwayForm,
        responses={201: WentAwayOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, DaysAwayForm), me(request)
        if "decisions" in sent:
            sent = {"call_off_why": "", **sent, "decisions": decisions_of(sent)}

        def act(now: datetime) -> Result:
            instructor = asked_instructor(request, sent.get("instructor"))
            went = go_away(
                actor=user,
                now=now,
                **{"time_zone": zone_of_hours(instructor), **sent, "instructor": instructor},
            )
            meetings = {
                **became_of(went.done, user),
                "left_outside": shown_meetings(went.left_outside, user),
            }
            headers = {**location("days-away", went.away.pk), **_tag(went.away)}
            return Result(201, {**DaysAwayOutput.of(went.away), **meetings}, headers)

        return answered(request, act)


class OneDaysAway(ApiView):
    """One stretch of days away. They never change, they are only removed.

    So If-Match is honoured and not needed.
    """

    if_match = {"DELETE": HONOURED}

    @operation(
        "days_away_one", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=DaysAwayOutput
    )
    def get(self, request: Request, pk: int) -> Response:
        away = access.access_days_away(me(request), pk)
        return Response(DaysAwayOutput.of(away), headers=_tag(away))

    @operation("come_back", scope=PEOPLE, responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            away = access.access_days_away(me(request), pk)
            names(request, _tag(away)["ETag"])
            come_back(actor=me(request), away=away, now=now)
            return Result(204)

        return answered(request, act)


def _tag(away: DaysAway) -> dict[str, str]:
    # Days away have one tag: another date is another row, with another id.
    return {"ETag": etag("days-away", away.pk, 1)}
