"""Instructors as the school has them: one who leaves."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework.request import Request

from bookings import access
from bookings.api.days_away import CallOffForm
from bookings.api.door import Result, answered
from bookings.api.meeting_serializers import MeetingOutput
from bookings.api.operation import operation
from bookings.api.output import Output
from bookings.api.references import a_student, an_instructor
from bookings.api.views import ApiView, body, me
from bookings.operations.leaving import dismiss_instructor
from bookings.queries.places import held_in


class DismissedOutput(Output):
    """Who teaches here no more, the meetings called off for it, and the students who have no
    regular instructor any more.
    """

    instructor = an_instructor()
    called_off = MeetingOutput(many=True)
    regular_students = a_student(many=True)


class Dismissing(ApiView):
    """Ends the teaching of an instructor.

    409 `has-bookings` lists their meetings ahead, unless `call_off_reason` says why these are
    called off.
    """

    bodies = {"POST"}

    @operation("dismiss_instructor", refused=(409,), request=CallOffForm, responses=DismissedOutput)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, CallOffForm), me(request)

        def act(now: datetime) -> Result:
            access.require_admin(user)
            gone = dismiss_instructor(
                actor=user, instructor=access.access_instructor(user, pk), now=now, **sent
            )
            held = held_in(gone.called_off, user, now=now)
            return Result(200, DismissedOutput.of(gone, reader=user, held_in=held))

        return answered(request, act)
