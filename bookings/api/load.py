"""An instructor's own exceptions from her load rules."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.calls import Call, body, me
from bookings.api.door import Answer, write
from bookings.api.fields import Instant, Strict, utc
from bookings.api.operation import operation
from bookings.models import LoadAllowance
from bookings.operations.load_allowances import allow_over_load


class AllowanceForm(Strict):
    """The start that she allows beyond her load."""

    starts_at = Instant()


class AllowanceShape(serializers.Serializer):
    """A start to which the rules of run, day, week and night rest do not apply, and since when."""

    id = serializers.IntegerField()
    starts_at = serializers.DateTimeField()
    allowed_at = serializers.DateTimeField()


class AllowanceList(serializers.Serializer):
    """All of her own, by start."""

    results = AllowanceShape(many=True)


class LoadAllowances(Call):
    """Only the instructor herself sees and adds them; the same start twice is one."""

    bodies = {"POST"}

    @operation("load_allowances", refused=(403,), responses=AllowanceList)
    def get(self, request: Request) -> Response:
        return Response(
            {
                "results": [
                    _shown(row)
                    for row in access.access_instructor(me(request)).load_allowances.all()
                ]
            }
        )

    @operation(
        "allow_over_load", refused=(409,), request=AllowanceForm, responses={201: AllowanceShape}
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, AllowanceForm), me(request)

        def act(now: datetime) -> Answer:
            instructor = access.access_instructor(user)
            return Answer(
                201,
                _shown(
                    allow_over_load(
                        actor=user, instructor=instructor, starts_at=sent["starts_at"], now=now
                    )
                ),
            )

        return write(request, act)


def _shown(row: LoadAllowance) -> dict[str, Any]:
    return {"id": row.pk, "starts_at": utc(row.starts_at), "allowed_at": utc(row.allowed_at)}
