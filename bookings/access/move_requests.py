"""The requests to move that a person may see, and those they answer."""

from datetime import datetime

from django.db.models import QuerySet

from accounts.models import User
from bookings.access.bookings import bookings_of
from bookings.access.instructors import instructor_of
from bookings.access.meetings import runs
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.models import MoveRequest


def move_requests_seen(user: User, *, now: datetime) -> QuerySet[MoveRequest]:
    """Every request to move, answered ones too, about a booking that this person may see."""
    rows = MoveRequest.objects.select_related(
        "booking__student__user", "booking__meeting__offering", "booking__meeting__instructor__user"
    )
    return (
        rows
        if user.is_staff
        else rows.filter(booking__in=bookings_of(user, now=now).order_by().values("pk"))
    )


def move_requests_of(user: User, *, now: datetime) -> QuerySet[MoveRequest]:
    """The open requests to move that a person answers: those of one-on-ones she teaches; an admin
    answers all.
    """
    rows = move_requests_seen(user, now=now).filter(state=MoveRequest.State.OPEN)
    if user.is_staff:
        return rows
    if instructor_of(user) is None:
        raise Refused("not-allowed", "Only an instructor or an admin can answer a request to move.")
    return rows.filter(booking__meeting__instructor__user=user)


def access_move_request(
    user: User, request_id: int, *, to_answer: bool = False, now: datetime
) -> MoveRequest:
    """A request to move that one may see; only its instructor and admins may answer it."""
    found = move_requests_seen(user, now=now).filter(pk=request_id).first()
    if found is None:
        raise not_there()
    if to_answer and not runs(user, found.booking.meeting):
        raise Refused(
            "not-allowed", "Only the instructor or an admin can answer a request to move."
        )
    return found
