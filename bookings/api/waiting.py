"""The waiting list of a group meeting, and the offers of a place that come of it."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.booking_serializers import BOOKING_PAGE, BookingOutput
from bookings.api.bookings import booking_result, seen_bookings
from bookings.api.changes import own_version
from bookings.api.conditions import HONOURED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, Id, Strict
from bookings.api.named import named_student
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, listed, paged
from bookings.api.paging import PageAsked, page
from bookings.api.places import KINDS
from bookings.api.references import Known, Named
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import Meeting, WaitingPlace
from bookings.operations.offers import accept_offer, decline_offer
from bookings.operations.waiting import join_waiting_list, leave_waiting_list
from bookings.queries.waiting import ranked, ranked_place, waiting_in, waiting_of


class WaitingOutput(Output):
    """A place on a waiting list.

    `rank` 1 is the first of those without an offer. It is null for whoever has one.
    """

    wire = {"place_kind": "as"}
    id = serializers.IntegerField()
    meeting = serializers.IntegerField(source="meeting_id")
    student = Named()
    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    place_kind = serializers.ChoiceField(choices=KINDS)
    rank = serializers.IntegerField(allow_null=True)
    joined_at = Utc()

    def get_student(self, row: WaitingPlace) -> Known:
        student = row.student
        return Known(student.pk, access.name_for(self.reader, student, clock.now()))


class WaitForm(Strict):
    """Who waits for what; one's only student is understood."""

    wire = {"place_kind": "as"}
    student = Id(required=False)
    place_kind = serializers.ChoiceField(
        choices=KINDS, required=False, default=PlaceKind.PLAYER.value
    )


class WaitAsked(WaitForm):
    """The same, in the query string."""

    student = AskedId(required=False)  # type: ignore[assignment]  # the same id, read from text


class Waiting(ApiView):
    """The waiting list of a group meeting, in order of joining. Its ETag is the meeting's.

    Leaving does not need If-Match: a family does not read the list, and it changes whenever others
    join. To avoid declining an offer unseen, send the ETag that came when you joined.
    """

    queries = {"DELETE"}
    bodies = {"POST"}
    if_match = {"DELETE": HONOURED}

    @operation("waiting_list", headers=("ETag",), responses=listed(WaitingOutput))
    def get(self, request: Request, pk: int) -> Response:
        meeting = access.access_taught_meeting(me(request), pk, now=clock.now())
        return Response(
            {"results": _queue(meeting, me(request))},
            headers={"ETag": etag("meeting", pk, meeting.version)},
        )

    @operation(
        "join_waiting_list",
        headers=("ETag",),
        refused=(409,),
        request=WaitForm,
        responses={201: WaitingOutput},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, WaitForm), me(request)

        def act(now: datetime) -> Result:
            meeting = access.access_meeting(user, pk, now=now)
            student = named_student(user, sent, now=now)
            kind = PlaceKind(sent["place_kind"])
            joined = join_waiting_list(
                actor=user, student=student, meeting=meeting, place_kind=kind, now=now
            )
            row = ranked_place(joined.pk)
            return Result(
                201,
                WaitingOutput.of(row, reader=user),
                {"ETag": etag("meeting", pk, joined.meeting.version)},
            )

        return answered(request, act)

    @operation("leave_waiting_list", refused=(409,), parameters=[WaitAsked], responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        wanted, user = asked(request, WaitAsked), me(request)

        def act(now: datetime) -> Result:
            meeting = access.access_meeting(user, pk, now=now)
            student = named_student(user, wanted, now=now)
            version = version_asked(request, "meeting", pk, meeting.version)
            kind = PlaceKind(wanted["place_kind"])
            leave_waiting_list(
                actor=user,
                student=student,
                meeting=meeting,
                place_kind=kind,
                meeting_version=version,
                now=now,
            )
            return Result(204)

        return answered(request, act)


def _queue(meeting: Meeting, reader: User) -> list[dict[str, Any]]:
    rows = sorted(
        ranked(waiting_in([meeting])),
        key=lambda row: (row.place_kind != PlaceKind.PLAYER, row.rank),
    )
    return WaitingOutput.of_all(rows, reader=reader)


class WaitingPlaces(ApiView):
    """Where the reader's students wait, in order of joining.

    A place that is offered is under offers/ instead.
    """

    queries = {"GET"}

    @operation("waiting_places", parameters=[PageAsked], responses=paged(WaitingOutput))
    def get(self, request: Request) -> Response:
        asked(request, PageAsked)
        user, now = me(request), clock.now()
        return page(
            request,
            self,
            waiting_of(access.own_students(user, now=now), now=now),
            ("joined_at", "id"),
            lambda found: WaitingOutput.of_all(found, reader=user),
        )


class Offers(ApiView):
    """Places offered to one's students that wait for an answer."""

    queries = {"GET"}

    @operation("offers", parameters=[PageAsked], responses=BOOKING_PAGE)
    def get(self, request: Request) -> Response:
        asked(request, PageAsked)
        user = me(request)
        rows = seen_bookings(user).filter(
            standing=Standing.OFFERED, student__in=access.own_students(user, now=clock.now())
        )
        return page(
            request,
            self,
            rows,
            ("answer_by", "id"),
            lambda found: BookingOutput.of_all(found, reader=user),
        )


class Accepting(ApiView):
    """Accepts an offer; `pk` is the id of the booking.

    An offer is answered once, so If-Match is honoured and not needed.
    """

    if_match = {"POST": HONOURED}

    @operation(
        "accept_offer",
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=BookingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            booking, version = own_version(request, pk)
            return booking_result(
                accept_offer(actor=me(request), booking=booking, version=version, now=now),
                me(request),
            )

        return answered(request, act)


class Declining(ApiView):
    """Declines an offer. The place goes to the next on the waiting list."""

    if_match = {"POST": HONOURED}

    @operation(
        "decline_offer",
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=BookingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            booking, version = own_version(request, pk)
            return booking_result(
                decline_offer(actor=me(request), booking=booking, version=version, now=now),
                me(request),
            )

        return answered(request, act)
