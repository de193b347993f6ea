"""Places in a group meeting for those who run it: the roster."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Student, User
from bookings import access, clock
from bookings.api.bookings import answer as booking_answer
from bookings.api.bookings import seen_bookings
from bookings.api.calls import Call, body, me
from bookings.api.conditions import HONOURED, NEEDED, etag, need_version
from bookings.api.door import Answer, write
from bookings.api.fields import Id, Line, Strict, TrueOrFalse, Wired, utc
from bookings.api.meetings import taught
from bookings.api.named import absent, named_student
from bookings.api.operation import operation
from bookings.api.references import Named
from bookings.api.shapes import BookingShape
from bookings.api.variants import EitherForm
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, PlaceKind, Standing
from bookings.models import LIVE, Booking, Meeting
from bookings.operations.places import book_place, leave_place
from bookings.queries.places import live_places

KINDS = [kind.value for kind in PlaceKind]


class RosterPlace(Wired):
    """One live place, and where its student stands in the curriculum."""

    wire = {"place_kind": "as"}
    booking = serializers.IntegerField()
    student = Named()
    level = serializers.IntegerField()
    unit = serializers.IntegerField()
    place_kind = serializers.ChoiceField(choices=KINDS)
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])
    answer_by = serializers.DateTimeField(allow_null=True)
    attendance = serializers.ChoiceField(
        choices=[attendance.value for attendance in Attendance], allow_null=True
    )


class RosterShape(serializers.Serializer):
    """Who is in, in order of booking."""

    meeting = serializers.IntegerField()
    results = RosterPlace(many=True)


class AddForm(Strict):
    """Whom an admin adds, and why."""

    wire = {"place_kind": "as", "ahead_of_queue": "ahead_of_waiting_list"}
    student = Id()
    place_kind = serializers.ChoiceField(
        choices=KINDS, required=False, default=PlaceKind.PLAYER.value
    )
    reason = Line(max_length=200)
    ahead_of_queue = TrueOrFalse(
        required=False,
        default=False,
        help_text="A free place although others wait, who keep their rank: an exception. It needs If-Match.",
    )


class RemoveBookingForm(Strict):
    """Which booking an admin removes, and why.

    In the body: addresses are logged, and why somebody left is nobody's who keeps the logs. RFC 9110 section 9.3.5 allows
    a body of DELETE where the server says, as the schema does, what it is for.
    """

    booking = Id()
    reason = Line(max_length=200)


class RemoveStudentForm(Strict):
    """Which student an admin removes, and why."""

    student = Id()
    reason = Line(max_length=200)


REMOVAL = EitherForm("RemoveForm", "booking", RemoveBookingForm, RemoveStudentForm)


class Roster(Call):
    """Who is in a meeting one runs.

    Its ETag is the meeting's, which every change of places and of the waiting list raises. Adding somebody is a creation and
    asks for none, but an exception does: it passes over those who waited when the admin looked.
    """

    bodies = {"POST", "DELETE"}
    if_match = {"POST": HONOURED, "DELETE": NEEDED}

    @operation("roster", headers=("ETag",), responses=RosterShape)
    def get(self, request: Request, pk: int) -> Response:
        meeting = access.access_taught_meeting(me(request), pk, now=clock.now())
        return Response(
            shown_roster(meeting, me(request)),
            headers={"ETag": etag("meeting", pk, meeting.version)},
        )

    @operation(
        "add_to_roster",
        headers=("ETag", "Location"),
        refused=(409, 428),
        request=AddForm,
        responses={201: BookingShape},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, AddForm), me(request)
        if sent["ahead_of_queue"]:
            need_version(request)

        def act(now: datetime) -> Answer:
            meeting, version = _kept_roster(request, pk)
            student = named_student(user, sent, now=now)
            kind = PlaceKind(sent["place_kind"])
            how = {
                "reason": sent["reason"],
                "ahead_of_queue": sent["ahead_of_queue"],
                "meeting_version": version,
            }
            booking = book_place(
                actor=user, student=student, meeting=meeting, place_kind=kind, now=now, **how
            )
            return booking_answer(booking, user, status=201)

        return write(request, act)

    @operation("remove_from_roster", request=REMOVAL.described, responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        wanted, user = REMOVAL.read(request), me(request)

        def act(now: datetime) -> Answer:
            named = (
                {"pk": wanted["booking"]} if "booking" in wanted else {"student": wanted["student"]}
            )
            # Read before the version: of a place that has just gone she is told that what she read has changed, not that it never was.
            booking = seen_bookings(user).filter(meeting=pk, standing__in=LIVE, **named).first()
            meeting, version = _kept_roster(request, pk)
            if meeting.offering.is_one_on_one:
                raise Refused(
                    "wrong-kind", "A one-on-one is called off, or cancelled by its booking."
                )
            if booking is None:
                raise absent("booking" if "booking" in wanted else "student")
            leave_place(
                actor=user,
                booking=booking,
                meeting_version=version,
                reason=wanted["reason"],
                now=now,
            )
            return Answer(204)

        return write(request, act)


def _kept_roster(request: Request, pk: int) -> tuple[Meeting, int | None]:
    """A meeting whose roster the caller, an admin, keeps, and the version that If-Match names."""
    access.access_taught_meeting(me(request), pk, now=clock.now())
    access.require_admin(me(request))
    return taught(request, pk)


def shown_roster(meeting: Meeting, reader: User) -> dict[str, Any]:
    rows = live_places(meeting)
    return {"meeting": meeting.pk, "results": [_place(row, reader) for row in rows]}


def _place(row: Booking, reader: User) -> dict[str, Any]:
    mark = getattr(row, "mark", None)
    return {
        "booking": row.pk,
        **shown_student(row.student, reader),
        "as": row.place_kind,
        "standing": row.standing,
        "answer_by": utc(row.answer_by),
        "attendance": mark.attendance if mark else None,
    }


def shown_student(student: Student, reader: User) -> dict[str, Any]:
    return {
        "student": {"id": student.pk, "name": access.name_for(reader, student, clock.now())},
        "level": student.level,
        "unit": student.unit,
    }
