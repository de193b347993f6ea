"""The school chooses the players of a group meeting among those who have applied."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework.request import Request

from bookings import access
from bookings.api.booking_serializers import BookingOutput
from bookings.api.bookings import booking_result
from bookings.api.conditions import NEEDED
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Strict
from bookings.api.meeting_serializers import MeetingOutput
from bookings.api.meetings import changed_meeting, taught
from bookings.api.named import named_student
from bookings.api.operation import operation
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.choosing import choose_player, close_choice


class ChoiceForm(Strict):
    """The student who is chosen."""

    student = Id()


class Choosing(ApiView):
    """Admins only. A player place for one who has applied; the others keep their order."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "choose_player",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=ChoiceForm,
        responses={201: BookingOutput},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, ChoiceForm), me(request)

        def act(now: datetime) -> Result:
            meeting, version = taught(request, pk)
            access.require_admin(user)
            student = named_student(user, sent, now=now)
            booking = choose_player(
                actor=user, student=student, meeting=meeting, version=version, now=now
            )
            return booking_result(booking, user, status=201)

        return answered(request, act)


class ClosingChoice(ApiView):
    """Admins only. Whoever has applied and is not chosen is told, once."""

    if_match = {"POST": NEEDED}

    @operation(
        "close_choice",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=None,
        responses=MeetingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return changed_meeting(request, pk, close_choice)
