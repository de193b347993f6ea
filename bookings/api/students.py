"""Students as the school has them: one who leaves."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from accounts.models import Student
from bookings import access
from bookings.api.door import Result, answered
from bookings.api.fields import Line, Strict
from bookings.api.operation import operation
from bookings.api.output import Output
from bookings.api.references import BookingAhead, a_student
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.closing import leave_school
from bookings.queries.commitments import Ahead


class LeavingForm(Strict):
    """`reason` is a sentence for everybody whose lessons and places end.

    Without it the request is refused if anything lies ahead.
    """

    reason = Line(max_length=200, required=False)


class LeftOutput(Output):
    """The student, and what ended.

    Bookings are shown as they stood before, weekly places by id.
    """

    student = a_student()
    bookings = BookingAhead(many=True)
    weekly_places = serializers.ListField(child=serializers.IntegerField())

    def get_student(self, ended: Ahead) -> Student:
        student: Student = self.context["student"]
        return student

    def get_weekly_places(self, ended: Ahead) -> list[int]:
        return [place.pk for place in ended.weekly]


class LeavingSchool(ApiView):
    """Takes a student out of the school.

    409 `has-bookings` lists what lies ahead, unless `reason` says why it ends.
    """

    bodies = {"POST"}

    @operation(
        "leave_school", scope=PEOPLE, refused=(403, 409), request=LeavingForm, responses=LeftOutput
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, LeavingForm), me(request)

        def act(now: datetime) -> Result:
            access.require_admin(user)
            student = access.access_student(user, pk, now=now)
            ended = leave_school(actor=user, student=student, why=sent.get("reason"), now=now)
            return Result(200, LeftOutput.of(ended, student=student))

        return answered(request, act)
