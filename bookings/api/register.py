"""The register of a meeting: what happened to each place."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from bookings.api.conditions import NEEDED, etag
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Strict
from bookings.api.meetings import taught
from bookings.api.operation import operation
from bookings.api.places import RosterOutput
from bookings.api.views import ApiView, body, me
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance
from bookings.operations.register import mark_register


class MarkForm(Strict):
    """What happened to one booking."""

    booking = Id()
    attendance = serializers.ChoiceField(choices=[attendance.value for attendance in Attendance])


class RegisterForm(Strict):
    """Marks for some or all places; marking again corrects."""

    marks: Any = serializers.ListSerializer(child=MarkForm(), allow_empty=False, max_length=1000)

    def validate_marks(self, marks: list[dict[str, Any]]) -> list[dict[str, Any]]:
        said = {"booking": ["This booking is marked twice: mark it once."]}
        seen: set[int] = set()
        errors = []
        for mark in marks:
            errors.append(said if mark["booking"] in seen else {})
            seen.add(mark["booking"])
        if any(errors):
            raise ValidationError(errors)
        return marks


class Register(ApiView):
    """Who came, from the start of the meeting on."""

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation(
        "mark_register",
        headers=("ETag",),
        refused=(409,),
        request=RegisterForm,
        responses=RosterOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, RegisterForm)["marks"]
        marks = {mark["booking"]: Attendance(mark["attendance"]) for mark in sent}

        def act(now: datetime) -> Result:
            meeting, version = taught(request, pk)
            try:
                marked = mark_register(
                    actor=me(request), meeting=meeting, marks=marks, version=version, now=now
                )
            except Refused as refusal:
                raise _at_marks(refusal, list(marks)) from None
            return Result(
                200,
                RosterOutput.of(marked, reader=me(request)),
                {"ETag": etag("meeting", pk, marked.version)},
            )

        return answered(request, act)


def _at_marks(refusal: Refused, marked: list[int]) -> Refused:
    """The refusal, with an error at each mark whose booking holds no place in the meeting.

    Such a booking is answered like any unknown id.
    """
    strangers = refusal.data.get("strangers")
    if strangers is None:
        return refusal
    errors = [
        {"detail": "This booking holds no place here.", "pointer": f"#/marks/{place}/booking"}
        for place, pk in enumerate(marked)
        if pk in strangers
    ]
    return Refused("not-found", refusal.detail, errors=errors)
