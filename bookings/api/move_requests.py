"""Requests to move a one-on-one.

A family asks, and the instructor or an admin answers. Until then nothing moves.
"""

from datetime import datetime
from functools import partial

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, names
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, Strict, Text
from bookings.api.operation import operation
from bookings.api.output import Local, Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import Known, Named, OfferingNamed, an_instructor, student_known
from bookings.api.time_fields import Instant, Zone, start_instant
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import MoveRequest
from bookings.operations.move_requests import accept_move_request, refuse_move_request, request_move

_STANDINGS = [state.name for state in MoveRequest.State]


class MoveRequestForm(Strict):
    """The start asked for, with its offset or as a wall time of the `time_zone` named with it."""

    starts_at = Instant(wall=True)
    time_zone = Zone(required=False)


class RefusalForm(Strict):
    """The reason that the family reads in the email; it is kept nowhere else."""

    reason = Text(max_length=500, required=False, allow_blank=True)


class MoveRequestsAsked(PageAsked):
    """Requests in one standing, of one student."""

    order = ("asked_at", "id")
    in_order = "In the order in which they were asked."
    narrows = {"student": "booking__student"}
    standing = serializers.ChoiceField(choices=_STANDINGS, required=False)
    student = AskedId(required=False)


class MoveRequestOutput(Output):
    """Another start asked for. `stands_at` is where the booking is now.

    CLOSED is what nobody answered before the booking began, ended or moved.
    """

    id = serializers.IntegerField()
    booking = serializers.IntegerField(source="booking_id")
    offering = OfferingNamed(source="booking.meeting.offering")
    instructor = an_instructor(source="booking.meeting.instructor")
    student = Named()
    stands_at = Utc(source="booking.starts_at")
    starts_at = Utc()
    local_start = Local(source="starts_at")
    time_zone = serializers.CharField()
    standing = serializers.ChoiceField(choices=_STANDINGS)
    asked_at = Utc()
    answered_at = Utc(allow_null=True)

    def get_student(self, row: MoveRequest) -> Known:
        booking = row.booking
        return student_known(booking.student, booking.meeting.instructor, self.reader)

    def get_time_zone(self, row: MoveRequest) -> str:
        return self.reader_zone

    def get_standing(self, row: MoveRequest) -> str:
        return MoveRequest.State(row.state).name


class MoveRequests(ApiView):
    """Requests about the reader's own and their children's bookings and those they answer.

    An admin sees all.
    """

    queries = {"GET"}

    @operation(
        "move_requests",
        scope=Scope.READ_CALENDAR,
        parameters=[MoveRequestsAsked],
        responses=paged(MoveRequestOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, MoveRequestsAsked), me(request)
        rows = access.move_requests_seen(user, now=clock.now())
        rows = MoveRequestsAsked.narrowed(rows, wanted, user)
        if "standing" in wanted:
            rows = rows.filter(state=MoveRequest.State[wanted["standing"]])
        shown = partial(MoveRequestOutput.of_all, reader=user)
        return page(request, MoveRequestsAsked, rows, shown)


class OneMoveRequest(ApiView):
    """One request to move."""

    @operation(
        "move_request", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=MoveRequestOutput
    )
    def get(self, request: Request, pk: int) -> Response:
        found = access.access_move_request(me(request), pk, now=clock.now())
        return Response(
            MoveRequestOutput.of(found, reader=me(request)), headers={"ETag": _etag(found)}
        )


class AskingToMove(ApiView):
    """Asks for a start that cannot simply be booked.

    One request is open at a time: a newer one replaces the older.
    """

    bodies = {"POST"}

    @operation(
        "ask_to_move",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=MoveRequestForm,
        responses={201: MoveRequestOutput},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, MoveRequestForm), me(request)
        starts_at = start_instant(sent["starts_at"], sent.get("time_zone"))

        def act(now: datetime) -> Result:
            booking = access.access_own_booking(user, pk, now=now)
            return _result(
                request_move(actor=user, booking=booking, starts_at=starts_at, now=now),
                user,
                status=201,
            )

        return answered(request, act)


class AcceptingMove(ApiView):
    """Yes: the lesson moves to the start asked for, by every rule of a move.

    A refusal leaves the request open.
    """

    if_match = {"POST": NEEDED}

    @operation(
        "accept_move_request",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=MoveRequestOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)
        return answered(
            request,
            lambda now: _result(
                accept_move_request(actor=user, request=_to_answer(request, pk), now=now), user
            ),
        )


class RefusingMove(ApiView):
    """No: the lesson stays where it is, and the family is told."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "refuse_move_request",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=RefusalForm,
        responses=MoveRequestOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        reason, user = body(request, RefusalForm).get("reason", ""), me(request)
        return answered(
            request,
            lambda now: _result(
                refuse_move_request(
                    actor=user, request=_to_answer(request, pk), words=reason, now=now
                ),
                user,
            ),
        )


def _to_answer(request: Request, pk: int) -> MoveRequest:
    """The request to answer.

    Refused("stale") where If-Match names another state: people say yes to the start that they have
    read.
    """
    found = access.access_move_request(me(request), pk, to_answer=True, now=clock.now())
    names(request, _etag(found))
    return found


def _etag(row: MoveRequest) -> str:
    return etag("move-request", row.pk, f"{row.asked_at:%Y%m%d%H%M%S%f}-{row.state}")


def _result(row: MoveRequest, user: User, *, status: int = 200) -> Result:
    fresh = access.access_move_request(user, row.pk, now=clock.now())
    return Result(
        status,
        MoveRequestOutput.of(fresh, reader=user),
        {**location("move-requests", fresh.pk), "ETag": _etag(fresh)},
    )
