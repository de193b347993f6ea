"""Audit of statements of hours: running totals, what counter-lines take back, dates stated once."""

from collections.abc import Iterator
from typing import Any

from django.db.models import Case, Count, Exists, F, OuterRef, QuerySet, RowRange, Sum, When, Window

from bookings.models import Statement, StatementLine
from bookings.queries.audit_findings import Finding


def statements_add_up() -> Iterator[Finding]:
    """Lines whose running total is not the sum of the lines up to them."""
    so_far = Window(
        Sum("counted_minutes"),
        partition_by=["statement"],
        order_by="position",
        frame=RowRange(start=None, end=0),
    )
    rows = StatementLine.objects.annotate(_so_far=so_far).exclude(total_minutes=F("_so_far"))
    for pk in rows.order_by("pk").values_list("pk", flat=True):
        yield Finding("total", "statement line", pk, "has another total than the lines up to it.")


def counter_lines_take_back() -> Iterator[Finding]:
    """Statements with two standing lines of one meeting, or a counter-line of nothing."""
    sign: dict[str, Any] = {
        "standing": Count(Case(When(is_counter=False, then=F("pk"))))
        - Count(Case(When(is_counter=True, then=F("pk"))))
    }
    meetings: QuerySet[Any, Any] = StatementLine.objects.order_by().values("statement", "meeting")
    wrong = meetings.annotate(**sign).exclude(standing__in=(0, 1))
    for row in wrong.order_by("statement", "meeting"):
        told = f"has {row['standing']} standing lines of meeting {row['meeting']}."
        yield Finding("counter-line", "statement", row["statement"], told)


def days_are_stated_once() -> Iterator[Finding]:
    """Statements with a date of an earlier statement of their instructor."""
    earlier = Statement.objects.filter(
        first_on__lte=OuterRef("last_on"),
        instructor=OuterRef("instructor"),
        last_on__gte=OuterRef("first_on"),
        pk__lt=OuterRef("pk"),
    )
    rows = Statement.objects.filter(Exists(earlier)).order_by("pk")
    for pk in rows.values_list("pk", flat=True):
        told = "has a day that another statement of its instructor has."
        yield Finding("statement_days_free", "statement", pk, told)
