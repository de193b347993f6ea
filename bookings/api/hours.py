"""An instructor's time: the week, extra hours, days away. An admin names the instructor."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Instructor
from bookings import access
from bookings.api.addresses import location
from bookings.api.conditions import HONOURED, NEEDED, etag, names, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, Clock, Day, Id, Line, Strict, Zone
from bookings.api.named import named_time
from bookings.api.operation import operation
from bookings.api.output import Output, ZoneName, listed
from bookings.api.references import an_instructor
from bookings.api.serializers import MeetingOutput, shown_meetings
from bookings.api.views import ApiView, asked, body, me
from bookings.models import DaysAway, ExtraHours, TeachingWeek
from bookings.operations.days_away import come_back, go_away
from bookings.operations.hours import add_extra_hours, publish_week, remove_extra_hours
from bookings.queries.teaching import week_of, zone_of_hours

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")  # RFC 5545 section 3.3.10
MOST_WINDOWS = 70


class InstructorAsked(Strict):
    """Whose time; one's own where left out."""

    instructor = AskedId(required=False)


@extend_schema_field({"type": "string", "pattern": "^(([01][0-9]|2[0-3]):[0-5][05]|24:00)$"})
class WindowTime(Clock):
    """A wall time on whole five minutes."""


class WindowForm(Strict):
    """Every week on that day, on the wall clock of the week's zone. Past midnight takes two windows."""

    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    opens = WindowTime()
    closes = WindowTime()


class WeekForm(Strict):
    """The whole week; it replaces the one there was."""

    time_zone = Zone()
    windows: Any = serializers.ListSerializer(child=WindowForm(), max_length=MOST_WINDOWS)


class WeekOutput(Output):
    """A week of teaching hours."""

    instructor = an_instructor()
    time_zone = ZoneName()
    windows = WindowForm(many=True)

    def get_instructor(self, week: TeachingWeek) -> Instructor:
        instructor: Instructor = self.context["instructor"]
        return instructor

    def get_windows(self, week: TeachingWeek) -> list[dict[str, Any]]:
        rows = week.windows.all() if week.pk else []
        return [
            {"weekday": WEEKDAYS[row.weekday], "opens": row.opens, "closes": row.closes}
            for row in sorted(rows, key=lambda row: (row.weekday, row.opens))
        ]


class PublishedOutput(WeekOutput):
    """The week as it now stands, and the one-on-ones that lie outside it now: they are kept until somebody moves them."""

    left_outside = MeetingOutput(many=True)


class TeachingHours(ApiView):
    """The week an instructor publishes, on their wall clock, through every clock change."""

    queries = {"GET", "PUT"}
    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation(
        "teaching_hours",
        headers=("ETag",),
        refused=(403, 404),
        parameters=[InstructorAsked],
        responses=WeekOutput,
    )
    def get(self, request: Request) -> Response:
        instructor = asked_instructor(request)
        week = week_of(instructor)
        return Response(WeekOutput.of(week, instructor=instructor), headers=_tag(week))

    @operation(
        "publish_week",
        headers=("ETag",),
        refused=(404,),
        parameters=[InstructorAsked],
        request=WeekForm,
        responses=PublishedOutput,
    )
    def put(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, WeekForm), me(request)
        windows = [
            (WEEKDAYS.index(window["weekday"]), window["opens"], window["closes"])
            for window in sent["windows"]
        ]

        def act(now: datetime) -> Result:
            instructor = asked_instructor(request)
            version = version_asked(request, "week", instructor.pk, week_of(instructor).version)
            published = publish_week(
                actor=user,
                instructor=instructor,
                time_zone=sent["time_zone"],
                windows=windows,
                version=version,
                now=now,
            )
            week = week_of(instructor)
            return Result(
                200,
                {
                    **WeekOutput.of(week, instructor=instructor),
                    "left_outside": shown_meetings(published.left_outside, user),
                },
                _tag(week),
            )

        return answered(request, act)


def asked_instructor(request: Request, instructor_id: int | None = None) -> Instructor:
    """The instructor asked_instructor time is meant: named in the body or the query string, else the caller."""
    named = instructor_id or asked(request, InstructorAsked).get("instructor")
    return named_time(me(request), {"instructor": named})


def _tag(week: TeachingWeek) -> dict[str, str]:
    return {"ETag": etag("week", week.instructor_id, week.version)}


class ExtraHoursForm(Strict):
    """A window on one date; the zone is that of the week where left out."""

    instructor = Id(required=False)
    on = Day()
    opens = WindowTime()
    closes = WindowTime()
    time_zone = Zone(required=False)


class ExtraHoursOutput(Output):
    """Extra hours on one date."""

    id = serializers.IntegerField()
    instructor = an_instructor()
    on = serializers.DateField()
    opens = WindowTime()
    closes = WindowTime()
    time_zone = ZoneName()


class AllExtraHours(ApiView):
    """One-off windows beside the weekly ones."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "extra_hours",
        refused=(403, 404),
        parameters=[InstructorAsked],
        responses=listed(ExtraHoursOutput),
    )
    def get(self, request: Request) -> Response:
        rows = asked_instructor(request).extra_hours.all()
        return Response({"results": ExtraHoursOutput.of_all(rows)})

    @operation(
        "add_extra_hours",
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=ExtraHoursForm,
        responses={201: ExtraHoursOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent = body(request, ExtraHoursForm)

        def act(now: datetime) -> Result:
            instructor = asked_instructor(request, sent.get("instructor"))
            times = {"time_zone": zone_of_hours(instructor), **sent, "instructor": instructor}
            extra = add_extra_hours(actor=me(request), now=now, **times)
            return Result(
                201,
                ExtraHoursOutput.of(extra),
                {**location("extra-hours", extra.pk), "ETag": _tag_of(extra)},
            )

        return answered(request, act)


class OneExtraHours(ApiView):
    """Extra hours that may be taken back; what is booked in them stays. If-Match is not asked for: they never change, only go."""

    if_match = {"DELETE": HONOURED}

    @operation("extra_hours_one", headers=("ETag",), responses=ExtraHoursOutput)
    def get(self, request: Request, pk: int) -> Response:
        extra = access.access_extra_hours(me(request), pk)
        return Response(ExtraHoursOutput.of(extra), headers={"ETag": _tag_of(extra)})

    @operation("remove_extra_hours", responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            extra = access.access_extra_hours(me(request), pk)
            names(request, _tag_of(extra))
            remove_extra_hours(actor=me(request), extra=extra, now=now)
            return Result(204)

        return answered(request, act)


class CallOffForm(Strict):
    """`call_off_reason` is a sentence for everybody in the meetings that stand in the way.

    With it they are called off, without it the request is refused.
    """

    wire = {"call_off_why": "call_off_reason"}
    call_off_why = Line(max_length=200, required=False)


class DaysAwayForm(CallOffForm):
    """First and last day, both included; the zone is that of the week where left out.

    Where meetings stand on those days nothing is written and 409 `has-bookings` lists them, unless `call_off_reason` says why all
    of them are called off.
    """

    instructor = Id(required=False)
    first_on = Day()
    last_on = Day()
    time_zone = Zone(required=False)


class DaysAwayOutput(Output):
    """Days on which nothing new is offered."""

    id = serializers.IntegerField()
    instructor = an_instructor()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    time_zone = ZoneName()


class WentAwayOutput(DaysAwayOutput):
    """The days away, the meetings called off for them, and the one-on-ones that lie outside their time otherwise, which are kept."""

    called_off = MeetingOutput(many=True)
    left_outside = MeetingOutput(many=True)


class AllDaysAway(ApiView):
    """Days on which an instructor does not teach."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "days_away",
        refused=(403, 404),
        parameters=[InstructorAsked],
        responses=listed(DaysAwayOutput),
    )
    def get(self, request: Request) -> Response:
        return Response(
            {"results": DaysAwayOutput.of_all(asked_instructor(request).days_away.all())}
        )

    @operation(
        "go_away",
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=DaysAwayForm,
        responses={201: WentAwayOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, DaysAwayForm), me(request)

        def act(now: datetime) -> Result:
            instructor = asked_instructor(request, sent.get("instructor"))
            went = go_away(
                actor=user,
                now=now,
                **{"time_zone": zone_of_hours(instructor), **sent, "instructor": instructor},
            )
            meetings = {
                name: shown_meetings(getattr(went, name), user)
                for name in ("called_off", "left_outside")
            }
            headers = {**location("days-away", went.away.pk), "ETag": _tag_of(went.away)}
            return Result(201, {**DaysAwayOutput.of(went.away), **meetings}, headers)

        return answered(request, act)


class OneDaysAway(ApiView):
    """Days away that may be taken back. If-Match is not asked for: they never change, only go."""

    if_match = {"DELETE": HONOURED}

    @operation("days_away_one", headers=("ETag",), responses=DaysAwayOutput)
    def get(self, request: Request, pk: int) -> Response:
        away = access.access_days_away(me(request), pk)
        return Response(DaysAwayOutput.of(away), headers={"ETag": _tag_of(away)})

    @operation("come_back", responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            away = access.access_days_away(me(request), pk)
            names(request, _tag_of(away))
            come_back(actor=me(request), away=away, now=now)
            return Result(204)

        return answered(request, act)


def _tag_of(row: ExtraHours | DaysAway) -> str:
    """Their one tag: a date that is no longer so is taken back and added anew, under another id."""
    return etag("extra-hours" if isinstance(row, ExtraHours) else "days-away", row.pk, 1)
