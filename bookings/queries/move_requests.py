"""Requests to move a lesson."""

from datetime import datetime

from django.db.models import QuerySet

from accounts.models import Instructor, User
from bookings.access import move_requests_of, students_named
from bookings.models import Booking, MoveRequest


def open_request(booking: Booking) -> MoveRequest | None:
    """What a family has asked for and nobody has answered yet."""
    return MoveRequest.objects.unanswered().filter(booking=booking).first()


def requests_to_answer(
    reader: User, *, words: str = "", instructor: Instructor | None = None, now: datetime
) -> QuerySet[MoveRequest]:
    """What this person may answer, as `move_requests_of` refuses: of students whom these words
    find, and about lessons of this instructor, where they are given.
    """
    rows = move_requests_of(reader, now=now)
    if words:
        rows = rows.filter(booking__student__in=students_named(reader, words, now=now))
    if instructor is not None:
        rows = rows.filter(booking__meeting__instructor=instructor)
    return rows
