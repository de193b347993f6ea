"""The week of an instructor. An admin names the instructor."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Instructor
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, Strict, TrueOrFalse
from bookings.api.meeting_serializers import MeetingOutput, shown_meetings
from bookings.api.named import whose_time
from bookings.api.operation import operation
from bookings.api.output import Output, ZoneName
from bookings.api.references import an_instructor
from bookings.api.time_fields import WEEKDAYS, WindowTime, Zone
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import TeachingWeek
from bookings.operations.hours import publish_week
from bookings.queries.teaching import week_of

MOST_WINDOWS = 70


class InstructorAsked(Strict):
    """The instructor whose time is meant; the caller where left out."""

    instructor = AskedId(required=False)


class WindowForm(Strict):
    """A window of every week, on the wall clock of the week's zone.

    Past midnight takes two windows.
    """

    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    opens = WindowTime()
    closes = WindowTime()


class WeekForm(Strict):
    """The whole week; it replaces the one there was.

    `keeps_hours_whole` stays as it is where it is left out.
    """

    time_zone = Zone()
    keeps_hours_whole = TrueOrFalse(required=False)
    windows: Any = serializers.ListSerializer(child=WindowForm(), max_length=MOST_WINDOWS)


class WeekOutput(Output):
    """A week of teaching hours.

    With `keeps_hours_whole`, lists of slots leave out a start that costs the day a lesson while its
    week has six others that cost none and are no harder for the student. It can still be booked.
    """

    instructor = an_instructor()
    time_zone = ZoneName()
    keeps_hours_whole = serializers.BooleanField()
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
    """The published week.

    `left_outside` holds the one-on-ones that are now outside it. They are kept until somebody moves
    them.
    """

    left_outside = MeetingOutput(many=True)


class TeachingHours(ApiView):
    """The week an instructor publishes, on their wall clock, through every clock change."""

    queries = {"GET", "PUT"}
    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation(
        "teaching_hours",
        scope=Scope.READ_CALENDAR,
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
        scope=PEOPLE,
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
                keeps_hours_whole=sent.get("keeps_hours_whole"),
                version=version,
                now=now,
            )
            week = published.week
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
    """The instructor named in the body or the query string, else the caller."""
    named = instructor_id or asked(request, InstructorAsked).get("instructor")
    return whose_time(me(request), {"instructor": named})


def _tag(week: TeachingWeek) -> dict[str, str]:
    return {"ETag": etag("week", week.instructor_id, week.version)}
