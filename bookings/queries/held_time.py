"""Time that meetings and bookings hold: what other reads of time have in common."""

from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet, Value

from bookings.domain.timeline import EPOCH
from bookings.models import Booking, Meeting

REACH = timedelta(hours=12)
"""Longer than any meeting with its changeover: an earlier start cannot reach into a window."""
_UNMARKED_EPOCH = EPOCH.replace(tzinfo=None)


def live_meetings(reached: datetime, since: datetime, until: datetime) -> QuerySet[Meeting]:
    """Live meetings that hold time in [since, until); `reached` is `since` less REACH."""
    return Meeting.objects.holding_time().filter(
        starts_at__lt=until, starts_at__gt=reached, held_until__gt=since
    )


def held_bookings(
    reached: datetime, since: datetime, until: datetime, ignoring: tuple[int, ...]
) -> QuerySet[Booking]:
    """The same for places that students hold; `ignoring` are ids of meetings to leave out."""
    rows = Booking.objects.held().filter(
        starts_at__lt=until, starts_at__gt=reached, ends_at__gt=since
    )
    return rows.exclude(meeting__in=ignoring) if ignoring else rows


def is_taken(since: datetime, until: datetime) -> Exists:
    """Whether a live meeting of the instructor whom a query reads lies in [since, until)."""
    return Exists(live_meetings(since - REACH, since, until).filter(instructor=OuterRef("pk")))


def marked_utc(stored: datetime) -> datetime:
    """SQLite gives UTC without saying so. Adding is six times as fast as `replace`."""
    return stored if stored.tzinfo is not None else EPOCH + (stored - _UNMARKED_EPOCH)


def rows_in_utc(rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """The same for rows of a kind, an owner, three instants and three other values.

    A search reads ten thousand rows, and adding a difference is cheaper than marking three times.
    """
    if not rows or rows[0][2].tzinfo is not None:
        return rows
    marked = []
    for kind, owner, first, second, third, one, two, name in rows:
        since = EPOCH + (first - _UNMARKED_EPOCH)
        until, past = since + (second - first), since + (third - first)
        marked.append((kind, owner, since, until, past, one, two, name))
    return marked


def labelled(rows: QuerySet[Any], kind: StrEnum, *columns: Any) -> QuerySet[Any, Any]:
    """`rows` as tuples of the kind and these columns: one part of a union."""
    return rows.order_by().values_list(Value(kind.value), *columns)
