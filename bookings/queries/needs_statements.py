"""Statements of hours that differ from the register, found without reckoning all of them."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db.models import (
    DateTimeField,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    Subquery,
)
from django.db.models.functions import Coalesce

from bookings.domain.needs import STATEMENTS_REACH
from bookings.domain.statement_corrections import counter_lines
from bookings.domain.statements import Line, reckon
from bookings.models import Booking, Meeting, Statement, StatementCorrection, StatementLine
from bookings.queries.statements import facts_of, with_places_had


def statements_differing(*, now: datetime) -> list[Statement]:
    """Statements of which a correction would write something now, the oldest first: four queries.

    Only the few whose meetings, places or marks have changed since they were written are reckoned.
    Those of dates further back than STATEMENTS_REACH are left out.
    """
    changed = list(_changed_since(now).select_related("instructor__user"))
    if not changed:
        return []
    written: dict[int, list[Line]] = defaultdict(list)
    lines = StatementLine.objects.filter(statement__in=changed)
    for line in lines.order_by("statement", "position"):
        written[line.statement_id].append(line.as_line)
    meetings = _meetings_of(changed)
    return [
        one
        for one in changed
        if counter_lines(
            written[one.pk],
            reckon(
                facts_of(meeting)
                for meeting in meetings[one.instructor_id]
                if one.first_on <= meeting.wall_on <= one.last_on
            ),
        )
    ]


def _changed_since(now: datetime) -> Any:
    """Statements with a meeting that has changed in any way since they were last written."""
    made = StatementCorrection.objects.filter(statement=OuterRef("pk")).order_by("-number")
    last_made: dict[str, Any] = {
        "written_at": Coalesce(Subquery(made.values("made_at")[:1]), F("issued_at"))
    }
    in_it = Meeting.objects.filter(
        instructor=OuterRef("instructor"),
        wall_on__gte=OuterRef("first_on"),
        wall_on__lte=OuterRef("last_on"),
        # Only so that the index of starts can be used: a wall date is within a day of its instant.
        starts_at__gte=_days_off("first_on", -1),
        starts_at__lt=_days_off("last_on", 2),
    )
    moved_away = StatementLine.objects.filter(
        statement=OuterRef("pk"), meeting__changed_at__gte=OuterRef("written_at")
    )
    recent = Statement.objects.filter(last_on__gte=(now - STATEMENTS_REACH).date())
    rows = recent.annotate(**last_made).filter(
        Exists(in_it.filter(_changed())) | Exists(moved_away)
    )
    return rows.order_by("first_on", "pk")


def _changed() -> Q:
    """A meeting that has changed since the statement of an outer query was written."""
    since = OuterRef("written_at")
    places = Booking.objects.filter(
        Q(mark__marked_at__gte=OuterRef(since))
        | Q(ended_at__gte=OuterRef(since))
        | Q(booked_at__gte=OuterRef(since)),
        meeting=OuterRef("pk"),
    )
    return Q(changed_at__gte=since) | Q(Exists(places))


def _days_off(date_column: str, days: int) -> ExpressionWrapper:
    return ExpressionWrapper(
        OuterRef(date_column) + timedelta(days=days), output_field=DateTimeField()
    )


def _meetings_of(statements: Sequence[Statement]) -> dict[int, list[Meeting]]:
    """The meetings of these statements' instructors and dates, by instructor: two queries."""
    rows = Meeting.objects.not_proposed().filter(
        instructor__in={one.instructor_id for one in statements},
        wall_on__gte=min(one.first_on for one in statements),
        wall_on__lte=max(one.last_on for one in statements),
    )
    found: dict[int, list[Meeting]] = defaultdict(list)
    for meeting in with_places_had(rows):
        found[meeting.instructor_id].append(meeting)
    return found
