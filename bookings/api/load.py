"""An instructor's own exceptions from their load rules."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.door import Result, answered
from bookings.api.fields import Strict
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, listed
from bookings.api.time_fields import Instant
from bookings.api.views import ApiView, body, me
from bookings.operations.load_allowances import allow_over_load


class AllowanceForm(Strict):
    """The start that the instructor allows beyond their load."""

    starts_at = Instant()


class AllowanceOutput(Output):
    """A start to which the rules of run, day, week and night rest do not apply, and since when."""

    id = serializers.IntegerField()
    starts_at = Utc()
    allowed_at = Utc()


class LoadAllowances(ApiView):
    """Only the instructor sees and adds them; the same start twice is one."""

    bodies = {"POST"}

    @operation("load_allowances", refused=(403,), responses=listed(AllowanceOutput))
    def get(self, request: Request) -> Response:
        instructor = access.access_instructor(me(request))
        return Response({"results": AllowanceOutput.of_all(instructor.load_allowances.all())})

    @operation(
        "allow_over_load", refused=(409,), request=AllowanceForm, responses={201: AllowanceOutput}
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, AllowanceForm), me(request)

        def act(now: datetime) -> Result:
            instructor = access.access_instructor(user)
            allowed = allow_over_load(
                actor=user, instructor=instructor, starts_at=sent["starts_at"], now=now
            )
            return Result(201, AllowanceOutput.of(allowed))

        return answered(request, act)
