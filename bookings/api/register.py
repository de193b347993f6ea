"""The register of a meeting: what happened to each place."""

from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import clock
from bookings.access import access_taught_meeting
from bookings.api.conditions import NEEDED, etag
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Strict
from bookings.api.meetings import taught
from bookings.api.operation import operation
from bookings.api.output import Output, Utc
from bookings.api.places import RosterPlace
from bookings.api.references import Named
from bookings.api.views import ApiView, body, me
from bookings.domain.errors import Refused
from bookings.domain.scopes import PEOPLE, Scope
from bookings.domain.vocabulary import Attendance
from bookings.models import Booking, Meeting, RegisterEntry
from bookings.operations.register import mark_register
from bookings.queries.places import live_places
from bookings.queries.rosters import with_entries

ATTENDANCES = [attendance.value for attendance in Attendance]


class MarkForm(Strict):
    """What happened to one booking."""

    booking = Id()
    attendance = serializers.ChoiceField(choices=ATTENDANCES)


class RegisterForm(Strict):
    """Marks for some or all places; marking again corrects.

    `others` is what everybody becomes who is neither named in `marks` nor marked yet: "all
    present" with its exceptions is one request.
    """

    marks: Any = serializers.ListSerializer(
        child=MarkForm(), required=False, allow_empty=False, max_length=1000
    )
    others = serializers.ChoiceField(choices=ATTENDANCES, required=False)

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if not sent:
            raise ValidationError({"marks": ["Say who came: send marks, others, or both."]})
        return sent

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


class EntryOutput(Output):
    """One entry in the register. The first one and every correction stay as they were made."""

    attendance = serializers.ChoiceField(choices=ATTENDANCES)
    person = Named(source="entered_by", allow_null=True)
    entered_at = Utc()


class RegisterPlace(RosterPlace):
    """One live place. `attendance` is the present word, and `register_entries` are all that were
    made, the first one first.
    """

    register_entries = EntryOutput(many=True)

    def get_register_entries(self, booking: Booking) -> QuerySet[RegisterEntry]:
        return booking.entries.all()


class RegisterOutput(Output):
    """Who came, in order of booking."""

    meeting = serializers.IntegerField(source="pk")
    results = RegisterPlace(many=True)

    def get_results(self, meeting: Meeting) -> QuerySet[Booking]:
        return with_entries(live_places(meeting))


class Register(ApiView):
    """Who came, from the start of the meeting on."""

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation("register", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=RegisterOutput)
    def get(self, request: Request, pk: int) -> Response:
        meeting = access_taught_meeting(me(request), pk, now=clock.now())
        return Response(
            RegisterOutput.of(meeting, reader=me(request)),
            headers={"ETag": etag("meeting", pk, meeting.version)},
        )

    @operation(
        "mark_register",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(409,),
        request=RegisterForm,
        responses=RegisterOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, RegisterForm)
        marks = {mark["booking"]: Attendance(mark["attendance"]) for mark in sent.get("marks", ())}
        others = Attendance(sent["others"]) if "others" in sent else None

        def act(now: datetime) -> Result:
            meeting, version = taught(request, pk)
            try:
                marked = mark_register(
                    actor=me(request),
                    meeting=meeting,
                    marks=marks,
                    others=others,
                    version=version,
                    now=now,
                )
            except Refused as refusal:
                raise _at_marks(refusal, list(marks)) from None
            return Result(
                200,
                RegisterOutput.of(marked, reader=me(request)),
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
