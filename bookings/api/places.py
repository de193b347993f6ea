"""Places in a group meeting for those who run it: the roster."""

from datetime import datetime

from django.db.models import QuerySet
from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.booking_serializers import BookingOutput
from bookings.api.bookings import booking_result
from bookings.api.conditions import HONOURED, NEEDED, etag, need_version, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Line, Strict, TrueOrFalse
from bookings.api.named import absent, named_student
from bookings.api.operation import operation
from bookings.api.output import Output, Utc
from bookings.api.references import Known, Named
from bookings.api.variants import EitherForm
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import Scope
from bookings.domain.vocabulary import Attendance, PlaceKind, Standing
from bookings.models import Booking, Meeting
from bookings.operations.places import book_place, leave_place
from bookings.queries.places import live_places

KINDS = [kind.value for kind in PlaceKind]


class RosterPlace(Output):
    """One live place, and where its student stands in the curriculum."""

    wire = {"place_kind": "as"}
    booking = serializers.IntegerField(source="pk")
    student = Named()
    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    place_kind = serializers.ChoiceField(choices=KINDS)
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])
    answer_by = Utc(allow_null=True)
    attendance = serializers.ChoiceField(
        choices=[attendance.value for attendance in Attendance], allow_null=True
    )

    def get_attendance(self, booking: Booking) -> str | None:
        mark = getattr(booking, "mark", None)
        return str(mark.attendance) if mark else None

    def get_student(self, row: Booking) -> Known:
        student = row.student
        return Known(student.pk, access.name_for(self.reader, student, clock.now()))


class RosterOutput(Output):
    """Who is in, in order of booking."""

    meeting = serializers.IntegerField(source="pk")
    results = RosterPlace(many=True)

    def get_results(self, meeting: Meeting) -> QuerySet[Booking]:
        return live_places(meeting)


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
        help_text="Put ahead of the waiting list; the others keep their position. "
        "This needs If-Match.",
    )


class RemoveBookingForm(Strict):
    """Which booking an admin removes, and why.

    These are in the body because addresses are logged, and a reason must not be. RFC 9110 section
    9.3.5 allows a body of DELETE where the server says, as the schema does, what it is for.
    """

    booking = Id()
    reason = Line(max_length=200)


class RemoveStudentForm(Strict):
    """Which student an admin removes, and why."""

    student = Id()
    reason = Line(max_length=200)


REMOVAL = EitherForm("RemoveForm", "booking", RemoveBookingForm, RemoveStudentForm)


class Roster(ApiView):
    """The roster of a meeting that the reader runs.

    Its ETag is that of the meeting, which changes with every place and with the waiting list.
    Adding a student needs no If-Match, except ahead of the waiting list: others may have joined it
    since the admin looked.
    """

    bodies = {"POST", "DELETE"}
    if_match = {"POST": HONOURED, "DELETE": NEEDED}

    @operation("roster", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=RosterOutput)
    def get(self, request: Request, pk: int) -> Response:
        meeting = access.access_taught_meeting(me(request), pk, now=clock.now())
        return Response(
            RosterOutput.of(meeting, reader=me(request)),
            headers={"ETag": etag("meeting", pk, meeting.version)},
        )

    @operation(
        "add_to_roster",
        scope=Scope.WRITE_BOOKINGS,
        headers=("ETag", "Location"),
        refused=(409, 428),
        request=AddForm,
        responses={201: BookingOutput},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, AddForm), me(request)
        if sent["ahead_of_queue"]:
            need_version(request)

        def act(now: datetime) -> Result:
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
            return booking_result(booking, user, status=201)

        return answered(request, act)

    @operation(
        "remove_from_roster",
        scope=Scope.WRITE_BOOKINGS,
        request=REMOVAL.described,
        responses={204: None},
    )
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        wanted, user = REMOVAL.read(request), me(request)

        def act(now: datetime) -> Result:
            # Read before the version is judged: a place that has just gone is "stale" and not
            # "not-found".
            booking = access.live_place(
                user,
                pk,
                booking_id=wanted.get("booking"),
                student_id=wanted.get("student"),
                now=now,
            )
            _, version = _kept_roster(request, pk)
            if booking is None:
                raise absent("booking" if "booking" in wanted else "student")
            leave_place(
                actor=user,
                booking=booking,
                meeting_version=version,
                reason=wanted["reason"],
                now=now,
            )
            return Result(204)

        return answered(request, act)


def _kept_roster(request: Request, pk: int) -> tuple[Meeting, int | None]:
    """A meeting whose roster the caller, an admin, keeps, and the version that If-Match names."""
    meeting = access.access_taught_meeting(me(request), pk, now=clock.now())
    access.require_admin(me(request))
    return meeting, version_asked(request, "meeting", pk, meeting.version)
