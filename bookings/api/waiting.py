"""The waiting list of a group meeting, and where one's students wait."""

from datetime import datetime
from functools import partial

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.conditions import HONOURED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.named import named_student
from bookings.api.operation import operation
from bookings.api.paging import page
from bookings.api.views import ApiView, asked, body, me
from bookings.api.waiting_serializers import (
    WAITING_PAGE,
    JoinForm,
    WaitAsked,
    WaitingListAsked,
    WaitingOutput,
    WaitingPlacesAsked,
)
from bookings.domain.scopes import PEOPLE, Scope
from bookings.domain.vocabulary import PlaceKind
from bookings.operations.waiting import join_waiting_list, leave_waiting_list
from bookings.queries.waiting import ranked_place, waiting_list_of, waiting_of


class Waiting(ApiView):
    """The waiting list of a group meeting. Its ETag is the meeting's.

    Leaving does not need If-Match: a family does not read the list, and it changes whenever others
    join. To avoid declining an offer unseen, send the ETag that came when you joined.
    """

    queries = {"GET", "DELETE"}
    bodies = {"POST"}
    if_match = {"DELETE": HONOURED}

    @operation(
        "waiting_list",
        scope=Scope.READ_CALENDAR,
        headers=("ETag",),
        parameters=[WaitingListAsked],
        responses=WAITING_PAGE,
    )
    def get(self, request: Request, pk: int) -> Response:
        wanted, user = asked(request, WaitingListAsked), me(request)
        meeting = access.access_taught_meeting(user, pk, now=clock.now())
        rows = WaitingListAsked.narrowed(waiting_list_of(meeting), wanted, user)
        answer = page(request, WaitingListAsked, rows, partial(WaitingOutput.of_all, reader=user))
        answer.headers["ETag"] = etag("meeting", pk, meeting.version)
        return answer

    @operation(
        "join_waiting_list",
        scope=Scope.WRITE_BOOKINGS,
        headers=("ETag",),
        refused=(409,),
        request=JoinForm,
        responses={201: WaitingOutput},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, JoinForm), me(request)

        def act(now: datetime) -> Result:
            meeting = access.access_meeting(user, pk, now=now)
            student = named_student(user, sent, now=now)
            kind = PlaceKind(sent["place_kind"])
            joined = join_waiting_list(
                actor=user,
                student=student,
                meeting=meeting,
                place_kind=kind,
                piece=sent["piece"],
                recording=sent["recording"],
                now=now,
            )
            row = ranked_place(joined.pk)
            return Result(
                201,
                WaitingOutput.of(row, reader=user),
                {"ETag": etag("meeting", pk, joined.meeting.version)},
            )

        return answered(request, act)

    @operation(
        "leave_waiting_list",
        scope=Scope.WRITE_BOOKINGS,
        refused=(409,),
        parameters=[WaitAsked],
        responses={204: None},
    )
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


class WaitingPlaces(ApiView):
    """Where the reader's students wait.

    A place that is offered is under offers/ instead.
    """

    queries = {"GET"}

    @operation(
        "waiting_places", scope=PEOPLE, parameters=[WaitingPlacesAsked], responses=WAITING_PAGE
    )
    def get(self, request: Request) -> Response:
        wanted, user, now = asked(request, WaitingPlacesAsked), me(request), clock.now()
        rows = waiting_of(access.own_students(user, now=now), now=now)
        rows = WaitingPlacesAsked.narrowed(rows, wanted, user)
        shown = partial(WaitingOutput.of_all, reader=user)
        return page(request, WaitingPlacesAsked, rows, shown)
