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
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import ByStartAsked, page
from bookings.api.time_fields import Instant
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.load_allowances import allow_over_load


class AllowanceForm(Strict):
    """The start that the instructor allows beyond their load."""

    starts_at = Instant()


class AllowanceOutput(Output):
    """A start to which the rules of run, day, week and night rest do not apply, and since when.

    For a group meeting the teaching hours and days away do not apply either.
    """

    id = serializers.IntegerField()
    starts_at = Utc()
    allowed_at = Utc()


class AllowancesAsked(ByStartAsked):
    """Those of starts in [from, to)."""


class LoadAllowances(ApiView):
    """Only the instructor sees and adds them; the same start twice is one."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "load_allowances",
        scope=PEOPLE,
        refused=(403,),
        parameters=[AllowancesAsked],
        responses=paged(AllowanceOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, AllowancesAsked), me(request)
        rows = access.access_instructor(user).load_allowances.all()
        rows = AllowancesAsked.narrowed(rows, wanted, user)
        return page(request, AllowancesAsked, rows, AllowanceOutput.of_all)

    @operation(
        "allow_over_load",
        scope=PEOPLE,
        refused=(409,),
        request=AllowanceForm,
        responses={201: AllowanceOutput},
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
