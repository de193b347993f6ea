"""Places in group meetings: the roster and register of who runs them, the waiting list, offers."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Student, User
from bookings import access, clock
from bookings.api.bookings import answer as booking_answer
from bookings.api.bookings import seen_bookings
from bookings.api.calls import Call, asked, body, me, page
from bookings.api.changes import own_version
from bookings.api.conditions import etag, need_version
from bookings.api.door import Answer, write
from bookings.api.fields import AskedId, Id, Line, Strict, utc
from bookings.api.meetings import taught
from bookings.api.offerings import Named
from bookings.api.shapes import BOOKING_PAGE, BookingShape, shown_booking
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, PlaceKind, Standing
from bookings.models import LIVE, Booking, Meeting, WaitingPlace
from bookings.operations.register import mark_register
from bookings.operations.waiting import accept_offer, book_place, decline_offer, join_waiting_list, leave_place, leave_waiting_list

KINDS = [kind.value for kind in PlaceKind]


class RosterStudent(Named):
    """A student as who runs the meeting sees her."""

    level = serializers.IntegerField()
    unit = serializers.IntegerField()


class RosterPlace(serializers.Serializer):
    """One live place."""

    booking = serializers.IntegerField()
    student = RosterStudent()
    place_kind = serializers.ChoiceField(choices=KINDS)
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])
    answer_by = serializers.DateTimeField(allow_null=True)
    attendance = serializers.ChoiceField(choices=[attendance.value for attendance in Attendance], allow_null=True)


class RosterShape(serializers.Serializer):
    """Who is in, in order of booking."""

    meeting = serializers.IntegerField()
    places = RosterPlace(many=True)


class AddForm(Strict):
    """Whom an admin adds, and why."""

    wire = {"place_kind": "as"}
    student = Id()
    place_kind = serializers.ChoiceField(choices=KINDS, required=False, default=PlaceKind.PLAYER.value)
    reason = Line(max_length=200)
    ahead_of_queue = serializers.BooleanField(
        required=False, default=False, help_text="A free place although others wait, who keep their rank: an exception, and kept as one."
    )


class RemoveForm(Strict):
    """Whom an admin removes, by booking or by student, and why.

    In the body: addresses are logged, and why somebody left is nobody's who keeps the logs. RFC 9110 section 9.3.5 allows
    a body of DELETE where the server says, as the schema does, what it is for.
    """

    booking = Id(required=False)
    student = Id(required=False)
    reason = Line(max_length=200)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("booking" in attrs) == ("student" in attrs):
            raise ValidationError({"booking": ["Name the booking or the student."]})
        return attrs


class Roster(Call):
    """Who is in a meeting one runs."""

    @extend_schema(operation_id="roster", responses=RosterShape)
    def get(self, request: Request, pk: int) -> Response:
        meeting = access.access_taught_meeting(me(request), pk)
        return Response(_roster(meeting, me(request)), headers={"ETag": etag("meeting", pk, meeting.version)})

    @extend_schema(operation_id="add_to_roster", request=AddForm, responses={201: BookingShape})
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, AddForm), me(request)

        def act(now: datetime) -> Answer:
            meeting = access.access_taught_meeting(user, pk)
            access.require_admin(user)
            student = access.access_student(user, sent["student"])
            kind = PlaceKind(sent["place_kind"])
            how = {"reason": sent["reason"], "ahead_of_queue": sent["ahead_of_queue"]}
            booking = book_place(actor=user, student=student, meeting=meeting, place_kind=kind, now=now, **how)
            return booking_answer(booking, user, status=201)

        return write(request, act)

    @extend_schema(operation_id="remove_from_roster", request=RemoveForm, responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        wanted, user = body(request, RemoveForm), me(request)

        def act(now: datetime) -> Answer:
            meeting = access.access_taught_meeting(user, pk)
            access.require_admin(user)
            if meeting.offering.is_one_on_one:
                raise Refused("wrong-kind", "A one-on-one is called off, or cancelled by its booking.")
            named = {"pk": wanted["booking"]} if "booking" in wanted else {"student": wanted["student"]}
            booking = seen_bookings(user).filter(meeting=meeting, standing__in=LIVE, **named).first()
            if booking is None:
                raise Refused("not-found", "Nobody so named has a place in this meeting.")
            leave_place(actor=user, booking=booking, reason=wanted["reason"], now=now)
            return Answer(204)

        return write(request, act)


def _roster(meeting: Meeting, reader: User) -> dict[str, Any]:
    rows = Booking.objects.filter(meeting=meeting, standing__in=LIVE).select_related("student__user", "mark").order_by("booked_at", "pk")
    return {"meeting": meeting.pk, "places": [_place(row, reader) for row in rows]}


def _place(row: Booking, reader: User) -> dict[str, Any]:
    mark = getattr(row, "mark", None)
    return {
        "booking": row.pk,
        "student": _student(row.student, reader),
        "place_kind": row.place_kind,
        "standing": row.standing,
        "answer_by": utc(row.answer_by),
        "attendance": mark.attendance if mark else None,
    }


def _student(student: Student, reader: User) -> dict[str, Any]:
    return {"id": student.pk, "name": access.name_for(reader, student, clock.now()), "level": student.level, "unit": student.unit}


class MarkForm(Strict):
    """What happened to one booking."""

    booking = Id()
    attendance = serializers.ChoiceField(choices=[attendance.value for attendance in Attendance])


class RegisterForm(Strict):
    """Marks for some or all places; marking again corrects."""

    marks: Any = serializers.ListSerializer(child=MarkForm(), allow_empty=False, max_length=1000)


class Register(Call):
    """Who came, from the start of the meeting on."""

    @extend_schema(operation_id="mark_register", request=RegisterForm, responses=RosterShape)
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        need_version(request)
        marks = {mark["booking"]: Attendance(mark["attendance"]) for mark in body(request, RegisterForm)["marks"]}

        def act(now: datetime) -> Answer:
            meeting, version = taught(request, pk)
            marked = mark_register(actor=me(request), meeting=meeting, marks=marks, version=version, now=now)
            return Answer(200, _roster(marked, me(request)), {"ETag": etag("meeting", pk, marked.version)})

        return write(request, act)


class WaitingShape(serializers.Serializer):
    """A place on a waiting list; `position` 1 is first in line."""

    id = serializers.IntegerField()
    meeting = serializers.IntegerField()
    student = RosterStudent()
    place_kind = serializers.ChoiceField(choices=KINDS)
    position = serializers.IntegerField()
    joined_at = serializers.DateTimeField()


class WaitingList(serializers.Serializer):
    """Those who wait, players before listeners, first in line first."""

    results = WaitingShape(many=True)


class WaitForm(Strict):
    """Who waits for what; one's only student is understood."""

    wire = {"place_kind": "as"}
    student = Id(required=False)
    place_kind = serializers.ChoiceField(choices=KINDS, required=False, default=PlaceKind.PLAYER.value)


class WaitAsked(WaitForm):
    """The same, in the query string."""

    student = AskedId(required=False)  # type: ignore[assignment]  # the same id, read from text


class Waiting(Call):
    """The waiting list of a group meeting, in order of joining."""

    @extend_schema(operation_id="waiting_list", responses=WaitingList)
    def get(self, request: Request, pk: int) -> Response:
        return Response({"results": _queue(access.access_taught_meeting(me(request), pk), me(request))})

    @extend_schema(operation_id="join_waiting_list", request=WaitForm, responses={201: WaitingShape})
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, WaitForm), me(request)

        def act(now: datetime) -> Answer:
            meeting = access.access_meeting(user, pk)
            student = access.access_student(user, sent.get("student"))
            kind = PlaceKind(sent["place_kind"])
            joined = join_waiting_list(actor=user, student=student, meeting=meeting, place_kind=kind, now=now)
            return Answer(201, next(row for row in _queue(meeting, user) if row["id"] == joined.pk))

        return write(request, act)

    @extend_schema(operation_id="leave_waiting_list", parameters=[WaitAsked], responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        wanted, user = asked(request, WaitAsked), me(request)

        def act(now: datetime) -> Answer:
            meeting = access.access_meeting(user, pk)
            student = access.access_student(user, wanted.get("student"))
            leave_waiting_list(actor=user, student=student, meeting=meeting, place_kind=PlaceKind(wanted["place_kind"]), now=now)
            return Answer(204)

        return write(request, act)


def _queue(meeting: Meeting, reader: User) -> list[dict[str, Any]]:
    rows: Iterable[WaitingPlace] = (
        WaitingPlace.objects.filter(meeting=meeting, ended_at__isnull=True).select_related("student__user").order_by("joined_at", "id")
    )
    lines: dict[str, list[WaitingPlace]] = {PlaceKind.PLAYER.value: [], PlaceKind.LISTENER.value: []}
    for row in rows:
        lines[row.place_kind].append(row)
    return [
        {
            "id": row.pk,
            "meeting": meeting.pk,
            "student": _student(row.student, reader),
            "place_kind": row.place_kind,
            "position": position,
            "joined_at": utc(row.joined_at),
        }
        for line in lines.values()
        for position, row in enumerate(line, start=1)
    ]


class Offers(Call):
    """Places offered to one's students that wait for an answer."""

    @extend_schema(operation_id="offers", responses=BOOKING_PAGE)
    def get(self, request: Request) -> Response:
        user = me(request)
        rows = seen_bookings(user).filter(standing=Standing.OFFERED, student__in=access.own_students(user))
        return page(request, self, rows, ("answer_by", "id"), lambda found: [shown_booking(booking, user) for booking in found])


class Accepting(Call):
    """Yes to an offer; `pk` is the booking's id. If-Match is honoured and not asked for: an offer is answered once."""

    @extend_schema(operation_id="accept_offer", request=None, responses=BookingShape)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Answer:
            booking, version = own_version(request, pk)
            return booking_answer(accept_offer(actor=me(request), booking=booking, version=version, now=now), me(request))

        return write(request, act)


class Declining(Call):
    """No to an offer: the place goes to the next in line."""

    @extend_schema(operation_id="decline_offer", request=None, responses=BookingShape)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Answer:
            booking, version = own_version(request, pk)
            return booking_answer(decline_offer(actor=me(request), booking=booking, version=version, now=now), me(request))

        return write(request, act)
