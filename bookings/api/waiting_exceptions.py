"""What an admin does to a waiting list: add, remove, hold the next free place, let it go."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from bookings import access, clock
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Line, Strict
from bookings.api.named import named_student
from bookings.api.operation import operation
from bookings.api.places import KINDS
from bookings.api.views import ApiView, body, me
from bookings.api.waiting_serializers import WaitingOutput
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import PlaceKind
from bookings.models import WaitingPlace
from bookings.operations.waiting_exceptions import (
    add_to_waiting_list,
    hold_next_place,
    let_next_place_go,
    remove_from_waiting_list,
)
from bookings.queries.waiting import ranked_place


class ExceptionForm(Strict):
    """Whom an admin means, and why. The reason is kept with the change; no family reads it."""

    wire = {"place_kind": "as"}
    student = Id()
    place_kind = serializers.ChoiceField(
        choices=KINDS, required=False, default=PlaceKind.PLAYER.value
    )
    reason = Line(max_length=200)


class AddingToList(ApiView):
    """An admin puts a student last on the waiting list; the family is told."""

    bodies = {"POST"}

    @operation(
        "add_to_waiting_list",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403, 409),
        request=ExceptionForm,
        responses={201: WaitingOutput},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _answer(request, pk, add_to_waiting_list, status=201)


class HoldingNext(ApiView):
    """An admin holds the next free place for a student, who is put on the list if not on it.

    The others keep their rank.
    """

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "hold_next_place",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403, 409),
        request=ExceptionForm,
        responses=WaitingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _answer(request, pk, hold_next_place)


class LettingGo(ApiView):
    """An admin holds the next free place for this student no more; they keep their rank."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "let_next_place_go",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403, 409),
        request=ExceptionForm,
        responses=WaitingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _answer(request, pk, let_next_place_go)


class RemovingFromList(ApiView):
    """An admin takes a student off the waiting list; the family is told."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "remove_from_waiting_list",
        scope=PEOPLE,
        refused=(403, 409),
        request=ExceptionForm,
        responses={204: None},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _answer(request, pk, remove_from_waiting_list, status=204)


def _answer(
    request: Request, pk: int, verb: Callable[..., WaitingPlace], *, status: int = 200
) -> HttpResponseBase:
    """Does the admin's act, and shows the student's place as it is afterwards."""
    sent, user = body(request, ExceptionForm), me(request)

    def act(now: datetime) -> Result:
        meeting = access.access_taught_meeting(user, pk, now=now)
        access.require_admin(user)
        student = named_student(user, sent, now=now)
        version = version_asked(request, "meeting", pk, meeting.version)
        how: dict[str, Any] = {} if status == 201 else {"meeting_version": version}
        done = verb(
            actor=user,
            student=student,
            meeting=meeting,
            place_kind=PlaceKind(sent["place_kind"]),
            reason=sent["reason"],
            now=now,
            **how,
        )
        if status == 204:
            return Result(204)
        fresh = access.access_meeting(user, pk, now=clock.now())
        headers = {"ETag": etag("meeting", pk, fresh.version)}
        return Result(status, WaitingOutput.of(ranked_place(done.pk), reader=user), headers)

    return answered(request, act)
