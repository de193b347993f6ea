"""Instructors as the school has them: one who leaves."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from bookings import access
from bookings.api.calls import Call, body, me
from bookings.api.door import Answer, write
from bookings.api.hours import CallOffForm
from bookings.api.operation import operation
from bookings.api.references import Named, shown_instructor
from bookings.api.shapes import MeetingShape, shown_meetings
from bookings.operations.leaving import dismiss_instructor


class DismissedShape(serializers.Serializer):
    """Who teaches here no more, and the meetings called off for it."""

    instructor = Named()
    called_off = MeetingShape(many=True)


class Dismissing(Call):
    """She teaches here no more. Meetings ahead are listed by 409 `has-bookings`, or called off where `call_off_reason` says why."""

    bodies = {"POST"}

    @operation("dismiss_instructor", refused=(409,), request=CallOffForm, responses=DismissedShape)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, CallOffForm), me(request)

        def act(now: datetime) -> Answer:
            access.require_admin(user)
            gone = dismiss_instructor(
                actor=user, instructor=access.access_instructor(user, pk), now=now, **sent
            )
            shown = {
                "instructor": shown_instructor(gone.instructor),
                "called_off": shown_meetings(gone.called_off, user),
            }
            return Answer(200, shown)

        return write(request, act)
