"""How long each kind of data is kept, and what is due to go.

The data map says of each table which kinds apply to it, or why it stays; a test compares them.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, DateTimeField, Min, QuerySet, Value

from bookings.models import RetentionRun
from bookings.queries.retention.kind import Kind
from bookings.queries.retention.of_lessons import LESSONS
from bookings.queries.retention.of_people import PEOPLE
from bookings.queries.retention.of_records import RECORDS

__all__ = ["KINDS", "Due", "Kind", "Retention", "due", "retention"]

KINDS = (*LESSONS, *PEOPLE, *RECORDS)


@dataclass(frozen=True, slots=True)
class Due:
    """What of one kind is due to go: how many rows, and when the oldest of them began."""

    kind: Kind
    count: int
    oldest: datetime | None


def due(*, now: datetime, machine: datetime) -> list[Due]:
    """What would go now, kind by kind, in the order of KINDS: one query."""
    counts = [_count(place, kind, now, machine) for place, kind in enumerate(KINDS)]
    found = {row["place"]: row for row in counts[0].union(*counts[1:], all=True)}
    return [
        Due(kind, found[place]["count"], found[place]["oldest"]) for place, kind in enumerate(KINDS)
    ]


def _count(place: int, kind: Kind, now: datetime, machine: datetime) -> QuerySet[Any]:
    rows = kind.rows(kind.until(now=now, machine=machine)).order_by()
    rows = rows.annotate(place=Value(place)).values("place")
    oldest = Min(kind.began) if kind.began else Value(None, DateTimeField())
    return rows.annotate(count=Count("pk"), oldest=oldest)


@dataclass(frozen=True, slots=True)
class Retention:
    """What is due of each kind, and the last day of the work; None before the first."""

    due: list[Due]
    run: RetentionRun | None

    @property
    def total(self) -> int:
        """How many rows are due."""
        return sum(one.count for one in self.due)

    @property
    def gone(self) -> int:
        """How many rows the last day has let go of."""
        return sum(self.run.gone.values()) if self.run is not None else 0


def retention(*, now: datetime, machine: datetime) -> Retention:
    """The times, what is due, and when it was last done: two queries."""
    return Retention(due(now=now, machine=machine), RetentionRun.objects.first())
