"""What may be done to a booking: cancel it, move it."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request

from bookings import access, clock
from bookings.api.booking_serializers import BookingOutput
from bookings.api.bookings import booking_result
from bookings.api.conditions import NEEDED, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Strict
from bookings.api.named import named_instructor, named_meeting, pointing_at
from bookings.api.operation import operation
from bookings.api.slots import near_start
from bookings.api.time_fields import Instant, Zone, start_instant
from bookings.api.variants import EitherForm
from bookings.api.views import ApiView, me
from bookings.domain.errors import Refused
from bookings.domain.scopes import Scope
from bookings.models import Booking
from bookings.operations.booking import cancel_slot, move_slot
from bookings.operations.declining import decline_booking
from bookings.operations.moving import move_pair
from bookings.operations.places import leave_place, move_place


def own_version(request: Request, pk: int) -> tuple[Booking, int | None]:
    """The caller's booking and the version that If-Match names."""
    booking = access.access_own_booking(me(request), pk, now=clock.now())
    return booking, version_asked(request, "booking", pk, booking.version)


def changed_booking(request: Request, pk: int, change: Callable[..., Booking]) -> HttpResponseBase:
    """Does `change` to the caller's booking that If-Match names, and answers with the changed
    booking.
    """
    user = me(request)

    def act(now: datetime) -> Result:
        booking, version = own_version(request, pk)
        return booking_result(change(actor=user, booking=booking, version=version, now=now), user)

    return answered(request, act)


booking_act = partial(
    operation,
    scope=Scope.WRITE_BOOKINGS,
    headers=("ETag", "Location"),
    refused=(409,),
    request=None,
    responses=BookingOutput,
)
"""Declares an act on the caller's booking that takes no body."""


class Cancelling(ApiView):
    """Cancels a booking.

    A one-on-one is cancelled with its meeting. A place in a group meeting goes to the first on the
    waiting list. A late cancellation is allowed and is charged.
    """

    if_match = {"POST": NEEDED}

    @booking_act("cancel_booking")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def cancel(booking: Booking, **asked: Any) -> Booking:
            act = cancel_slot if booking.meeting.offering.is_one_on_one else leave_place
            return act(booking=booking, **asked)

        return changed_booking(request, pk, cancel)


class Declining(ApiView):
    """Declines a lesson that the school booked or moved: free of charge, until `decline_by`."""

    if_match = {"POST": NEEDED}

    @booking_act("decline_booking")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return changed_booking(request, pk, decline_booking)


class StartForm(Strict):
    """A one-on-one to another start, as for booking.

    `with_sibling` is the booking of a sibling's lesson right before or after it, with the same
    instructor: it moves by the same step, or neither moves.
    """

    starts_at = Instant(wall=True)
    time_zone = Zone(required=False)
    instructor = Id(required=False)
    with_sibling = Id(required=False)


class MeetingNamed(Strict):
    """A place to another meeting of the same offering."""

    meeting = Id()


MOVE = EitherForm("MoveForm", "meeting", MeetingNamed, StartForm)


class Moving(ApiView):
    """Moves a booking.

    The cancellation deadline comes from the policy under which the booking was made; it binds the
    family, not the instructor who moves their own lesson. The new start is judged by the policy in
    force.
    """

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "move_booking",
        scope=Scope.WRITE_BOOKINGS,
        headers=("ETag", "Location"),
        refused=(409,),
        request=MOVE.described,
        responses=BookingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = MOVE.read(request), me(request)
        if "meeting" in sent:
            return answered(request, lambda now: _to_meeting(request, pk, sent, now))
        starts_at = start_instant(sent["starts_at"], sent.get("time_zone"))

        def near(_refusal: Refused, now: datetime) -> list[dict[str, Any]]:
            booking = access.access_booking_to_move(user, pk, now=now)
            return near_start(
                booking.meeting.offering,
                booking.student,
                starts_at,
                now=now,
                instructor_id=sent.get("instructor", booking.meeting.instructor_id),
                use_by=booking.use_by,
                user=user,
            )

        return answered(
            request, lambda now: _to_start(request, pk, sent, starts_at, now), near=near
        )


def _to_start(
    request: Request, pk: int, sent: dict[str, Any], starts_at: datetime, now: datetime
) -> Result:
    user, instructor_id = me(request), sent.get("instructor")
    booking = access.access_booking_to_move(user, pk, instructor_id=instructor_id, now=now)
    asked: dict[str, Any] = {
        "actor": user,
        "booking": booking,
        "starts_at": starts_at,
        "version": version_asked(request, "booking", pk, booking.version),
        "instructor": named_instructor(instructor_id) if instructor_id is not None else None,
        "now": now,
    }
    if "with_sibling" not in sent:
        return booking_result(move_slot(**asked), user)
    with pointing_at("with_sibling"):
        sibling = access.access_booking_to_move(
            user, sent["with_sibling"], instructor_id=instructor_id, now=now
        )
    return booking_result(move_pair(**asked, sibling=sibling), user)


def _to_meeting(request: Request, pk: int, sent: dict[str, Any], now: datetime) -> Result:
    booking, version = own_version(request, pk)
    meeting = named_meeting(me(request), sent, now=now)
    if booking.meeting.offering.is_one_on_one:
        raise Refused("wrong-kind", "A one-on-one moves to another start: send starts_at.")
    moved = move_place(
        actor=me(request), booking=booking, meeting=meeting, version=version, now=now
    )
    return booking_result(moved, me(request))
