"""A group meeting is duplicated, once or on a series of dates."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from bookings import access, clock
from bookings.api.conditions import NEEDED
from bookings.api.door import Result, answered
from bookings.api.fields import Strict, Whole
from bookings.api.meeting_serializers import MeetingOutput, shown_meetings
from bookings.api.meetings import taught
from bookings.api.operation import operation
from bookings.api.output import listed
from bookings.api.time_fields import Day
from bookings.api.views import ApiView, body, me
from bookings.api.weekly_serializers import StartTime
from bookings.domain.scopes import PEOPLE
from bookings.operations.repeating import MOST_DATES, MOST_WEEKS, Series, repeat_meeting


class SeriesForm(Strict):
    """Dates on the clock of the instructor's hours: `count` of them, some weeks apart.

    `without` are dates of the series to be left out. The wall time stays through clock changes.
    """

    wire = {"wall_at": "wall_time"}
    first_on = Day()
    wall_at = StartTime()
    every_weeks = Whole(min_value=1, max_value=MOST_WEEKS, required=False, default=1)
    count = Whole(min_value=1, max_value=MOST_DATES, required=False, default=1)
    without = serializers.ListField(child=Day(), max_length=MOST_DATES, required=False)


class Repeating(ApiView):
    """The same theme, places and levels on other dates: each a meeting of its own, all or none."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "duplicate_meeting",
        scope=PEOPLE,
        refused=(409,),
        request=SeriesForm,
        responses={201: listed(MeetingOutput)},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, SeriesForm), me(request)
        series = Series(**{**sent, "without": frozenset(sent.get("without", ()))})

        def act(now: datetime) -> Result:
            meeting, version = taught(request, pk)
            made = repeat_meeting(
                actor=user, meeting=meeting, series=series, version=version, now=now
            )
            ids = [one.pk for one in made]
            rows = access.meetings_of(user, now=clock.now()).filter(pk__in=ids)
            return Result(201, {"results": shown_meetings(rows.order_by("starts_at"), user)})

        return answered(request, act)
