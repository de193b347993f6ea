"""The exchanges that a person is asked about: of their own weekly places and their children's."""

from datetime import datetime

from django.db.models import QuerySet

from accounts.models import User
from bookings.access.refusals import not_there
from bookings.access.students import own_students
from bookings.models import ExchangeMove


def exchange_moves_of(user: User, *, now: datetime) -> QuerySet[ExchangeMove]:
    """What this person is asked, each for one place; an admin sees all.

    Neither an instructor nor another family of the same exchange sees any of it.
    """
    rows = ExchangeMove.objects.all()
    if user.is_staff:
        return rows
    return rows.filter(place__student__in=own_students(user, now=now))


def access_exchange_move(user: User, move_id: int, *, now: datetime) -> ExchangeMove:
    """One of them, which this person may answer. Refused("not-found")."""
    places = ("place", "takes")
    people = [f"{of}__{who}" for of in places for who in ("student__user", "instructor__user")]
    rows = exchange_moves_of(user, now=now).select_related(
        "exchange", *people, "place__term", "place__offering"
    )
    found = rows.filter(pk=move_id).first()
    if found is None:
        raise not_there()
    return found
