"""The minimum to run of a group meeting: set or changed, or decided by an admin."""

from django.http import HttpResponseBase
from rest_framework.request import Request

from bookings.api.conditions import NEEDED
from bookings.api.meeting_serializers import MeetingOutput, MinimumForm
from bookings.api.meetings import changed_meeting
from bookings.api.operation import operation
from bookings.api.views import ApiView, body
from bookings.domain.minimums import Minimum
from bookings.domain.scopes import PEOPLE
from bookings.operations.minimums import say_it_runs, set_minimum


class OneMinimum(ApiView):
    """The minimum to run of a group meeting, until it is decided whether it runs."""

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation(
        "set_minimum",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=MinimumForm,
        responses=MeetingOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        """Sets or changes it before students have booked the meeting as certain.

        Everybody who holds a place gets one email.
        """
        sent = body(request, MinimumForm)
        wanted = Minimum(sent["minimum"], sent["decide_by"])
        return changed_meeting(request, pk, set_minimum, minimum=wanted)


class Running(ApiView):
    """An admin says that a meeting with a minimum to run takes place, however many players come."""

    if_match = {"POST": NEEDED}

    @operation(
        "say_it_runs",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=None,
        responses=MeetingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        """Everybody who holds a place gets one email."""
        return changed_meeting(request, pk, say_it_runs)
