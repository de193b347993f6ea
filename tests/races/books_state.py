"""What the database holds of owed lessons, registers, statements and exchanges, as rows of the
desk.
"""

from collections import defaultdict
from datetime import datetime

from tests.races.desk.book_rows import (
    Books,
    Exchange,
    Line,
    Move,
    Owed,
    Place,
    Statement,
    WeeklyTime,
)


def read_books(*, before: datetime | None) -> Books:
    """Every owed lesson, statement, exchange and weekly time, and the held places of meetings that
    started `before` then, in seven queries; no places where it is None, in five.
    """
    # Imported here: a checker of histories needs no Django.
    from django.db.models import F

    from bookings.models import OwedLesson

    owed = OwedLesson.objects.annotate(make_up=F("make_ups")).order_by("pk")
    names = ("pk", "student_id", "use_by", "closed_how", "make_up", "carried_from_id")
    return Books(
        frozenset(Owed(*values) for values in owed.values_list(*names)),
        frozenset() if before is None else _places(before),
        _statements(),
        _exchanges(),
        _times(),
    )


def _places(before: datetime) -> frozenset[Place]:
    from django.db.models import F

    from bookings.models import Booking, RegisterEntry

    held = Booking.objects.held().filter(meeting__starts_at__lt=before).order_by("pk")
    entries: dict[int, list[str]] = defaultdict(list)
    entered = RegisterEntry.objects.filter(booking__in=held.order_by()).order_by("pk")
    for booking, word in entered.values_list("booking", "attendance"):
        entries[booking].append(word)
    rows = held.values_list(
        "pk",
        "meeting",
        "meeting__instructor",
        "meeting__wall_on",
        F("meeting__starts_at"),
        "meeting__minutes",
    )
    return frozenset(Place(*values, tuple(entries[values[0]])) for values in rows)


def _statements() -> frozenset[Statement]:
    from bookings.models import Statement as Issued
    from bookings.models import StatementLine

    lines: dict[int, list[Line]] = defaultdict(list)
    names = ("meeting", "outcome", "counted_minutes", "is_counter")
    written = StatementLine.objects.order_by("statement", "position")
    for statement, *values in written.values_list("statement", *names):
        lines[statement].append(Line(*values))
    issued = Issued.objects.order_by("pk").values_list("pk", "instructor", "first_on", "last_on")
    return frozenset(Statement(*values, tuple(lines[values[0]])) for values in issued)


def _exchanges() -> frozenset[Exchange]:
    from bookings.models import ExchangeMove

    found: dict[int, Exchange] = {}
    rows = ExchangeMove.objects.select_related("exchange", "place", "takes").order_by("pk")
    for row in rows:
        place, takes = (
            (one.instructor_id, one.weekday, one.wall_at) for one in (row.place, row.takes)
        )
        move = Move(row.pk, row.place.student_id, place, takes)
        known = found.get(
            row.exchange_id, Exchange(row.exchange_id, (), why=row.exchange.ended_why)
        )
        yes = known.yes if row.said_yes_at is None else known.yes | {row.pk}
        found[known.id] = known._replace(moves=(*known.moves, move), yes=yes)
    return frozenset(found.values())


def _times() -> frozenset[WeeklyTime]:
    from bookings.models import WeeklyPlace

    rows = WeeklyPlace.objects.not_ended().order_by("pk")
    names = ("student", "instructor", "weekday", "wall_at")
    return frozenset(WeeklyTime(pk, tuple(at)) for pk, *at in rows.values_list(*names))
