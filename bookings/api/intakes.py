"""The intake: the family writes and reads it."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.booking_serializers import BookingOutput, IntakeForm, IntakeOutput
from bookings.api.bookings import booking_result
from bookings.api.changes import own_version
from bookings.api.conditions import NEEDED
from bookings.api.door import Result, answered
from bookings.api.operation import operation
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import PEOPLE
from bookings.models import Booking
from bookings.operations.intakes import IntakeText, write_intake, written_intake
from bookings.reading import read_hurts


class OwnIntakeOutput(IntakeOutput):
    """The same for the family, with what hurts. To an admin who acts for them that is empty."""

    hurts = serializers.CharField()

    def get_hurts(self, _: IntakeText) -> str:
        hurts: str = self.context["hurts"]
        return hurts


class OneIntake(ApiView):
    """What the student writes before a meeting.

    The family reads all of it here. What hurts stays as it is where a change leaves it out.
    """

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation("intake", scope=PEOPLE, refused=(403,), responses=OwnIntakeOutput)
    def get(self, request: Request, pk: int) -> Response:
        # No tag: one would tell others by its changes what the text does not.
        now, user = clock.now(), me(request)
        booking = access.access_own_booking(user, pk, now=now)
        hurts = read_hurts(user, booking, now=now)
        return Response(OwnIntakeOutput.of(written_intake(booking), hurts=hurts))

    @operation(
        "write_intake",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=IntakeForm,
        responses=BookingOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, IntakeForm), me(request)

        def act(now: datetime) -> Result:
            booking, version = own_version(request, pk)
            text = IntakeText(**{**_written(booking), **sent})
            return booking_result(
                write_intake(actor=user, booking=booking, intake=text, version=version, now=now),
                user,
            )

        return answered(request, act)


def _written(booking: Booking) -> dict[str, Any]:
    """What is stored, but for what hurts, which stays as it is unless it is sent."""
    text = written_intake(booking)
    return {name: getattr(text, name) for name in IntakeText.__dataclass_fields__}
