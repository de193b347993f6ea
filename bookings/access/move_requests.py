"""The requests to move that a person may see, and those that they answer."""

from datetime import datetime

from django.db.models import QuerySet

from accounts.models import User
from bookings.access.bookings import bookings_of
from bookings.access.instructors import instructor_of
from bookings.access.meetings import may_run
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.models import MoveRequest, MoveRequestQuerySet


def move_requests_seen(user: User, *, now: datetime) -> MoveRequestQuerySet:
    """Requests, answered or not, about bookings that this person may see."""
    rows = MoveRequest.objects.select_related(
        "booking__student__user", "booking__meeting__offering", "booking__meeting__instructor__user"
    )
    if user.is_staff:
        return rows
    return rows.filter(booking__in=bookings_of(user, now=now).order_by().values("pk"))


def move_requests_of(user: User, *, now: datetime) -> QuerySet[MoveRequest]:
    """The unanswered requests that this person may answer: an instructor's own, all for an admin.

    Refused("not-allowed") for anybody else.
    """
    rows = move_requests_seen(user, now=now).unanswered()
    if user.is_staff:
        return rows
    if instructor_of(user) is None:
        raise Refused("not-allowed", "Only an instructor or an admin can answer a request to move.")
    return rows.filter(booking__meeting__instructor__user=user)


def access_move_request(
    user: User, request_id: int, *, to_answer: bool = False, now: datetime
) -> MoveRequest:
    """A request that this person may see or, with `to_answer`, answer.

    Refused: "not-found", "not-allowed" to anybody but the instructor and admins who would answer.
    """
    found = move_requests_seen(user, now=now).filter(pk=request_id).first()
    if found is None:
        raise not_there()
    if to_answer and not may_run(user, found.booking.meeting):
        raise Refused(
            "not-allowed", "Only the instructor or an admin can answer a request to move."
        )
    return found
