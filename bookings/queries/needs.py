"""What needs an admin now: each kind counted, the first of it by name; the queries are fixed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from accounts.models import User
from bookings.access import not_there, require_admin
from bookings.domain.needs import Need
from bookings.models import Statement
from bookings.queries.my_students import Wanted, due_among, students_by_id, students_wanted
from bookings.queries.needs_kinds import KINDS
from bookings.queries.needs_rows import NeedRow, first_of_each, rows_of
from bookings.queries.needs_statements import statements_differing

SHOWN = 3
PAGE_OF = 40


@dataclass(frozen=True, slots=True)
class Needed:
    """So many things of one kind, and the first of them, the most pressing first."""

    need: Need
    count: int
    first: Sequence[NeedRow]


def needs_now(reader: User, *, now: datetime) -> list[Needed]:
    """What needs an admin, in the order of Need; kinds without any are left out. Seven queries.

    Refused("not-allowed") for anybody but an admin.
    """
    require_admin(reader)
    found = first_of_each(reader, most=SHOWN, now=now)
    statements = [_statement_row(one) for one in statements_differing(now=now)]
    found[Need.STATEMENT] = len(statements), statements[:SHOWN]
    found[Need.REVIEW] = _reviews(reader, now)
    counted = ((need, *found.get(need, (0, []))) for need in Need)
    return [Needed(need, count, first) for need, count, first in counted if count]


def needed_of(reader: User, need: Need, *, now: datetime) -> QuerySet[Any, Any] | list[NeedRow]:
    """The rows of one kind, the most pressing first; `as_rows` reads a page of them.

    Refused: "not-allowed" for anybody but an admin, "not-found" for students due a review, who have
    a list of their own.
    """
    require_admin(reader)
    if need is Need.STATEMENT:
        return [_statement_row(one) for one in statements_differing(now=now)]
    if need not in KINDS:
        raise not_there()
    return rows_of(reader, need, now=now)


def _statement_row(statement: Statement) -> NeedRow:
    name = statement.instructor.user.name
    return NeedRow(Need.STATEMENT, statement.pk, name, on=statement.first_on)


def _reviews(reader: User, now: datetime) -> tuple[int, list[NeedRow]]:
    """Students due a review, as the list of everybody's students has them: two queries."""
    due = due_among(students_wanted(reader, Wanted(), now=now), reader, None, now=now)
    first = {one.student_id: one for one in due[:SHOWN]}
    rows = [
        NeedRow(Need.REVIEW, one.pk, one.full_name, first[one.pk].sentences[0])
        for one in students_by_id(list(first))
    ]
    return len(due), rows
