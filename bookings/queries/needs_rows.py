"""What needs an admin, kind by kind, as rows of one shape, so that one query reads them all."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import CharField, Count, DateField, DateTimeField, F, QuerySet, Value, Window
from django.db.models.functions import Cast, RowNumber

from accounts.models import User
from bookings.domain.needs import Need
from bookings.queries.held_time import marked_utc
from bookings.queries.needs_kinds import KINDS, Shape
from bookings.queries.undelivered import about_of

_COLUMNS = ("what", "subject", "called", "about", "at", "on_day")


@dataclass(frozen=True, slots=True)
class NeedRow:
    """One thing of a kind: the id of what its page is about, who or what it is, in words.

    `at` is the instant that presses, or since which it waits; `on` is a date instead.
    """

    need: Need
    id: int
    name: str
    about: str = ""
    at: datetime | None = None
    on: date | None = None


def first_of_each(
    reader: User, *, most: int, now: datetime
) -> dict[Need, tuple[int, list[NeedRow]]]:
    """How many rows each kind has, and the first of them: one query. Kinds without any are left
    out.
    """
    parts = []
    for need, kind in KINDS.items():
        rows, order = _shaped(need, kind(reader, now))
        numbered: dict[str, Any] = {
            "number": Window(Count("pk")),
            "place": Window(RowNumber(), order_by=order),
        }
        parts.append(
            rows.annotate(**numbered).filter(place__lte=most).values_list(*_COLUMNS, "number")
        )
    found: dict[Need, tuple[int, list[NeedRow]]] = {}
    for *columns, number in parts[0].union(*parts[1:], all=True):
        row = _row(columns)
        found.setdefault(row.need, (number, []))[1].append(row)
    for _, rows_found in found.values():
        rows_found.sort(key=_pressing)
    return found


def rows_of(reader: User, need: Need, *, now: datetime) -> QuerySet[Any, Any]:
    """All rows of one kind of KINDS, the most pressing first; `as_rows` reads them."""
    rows, order = _shaped(need, KINDS[need](reader, now))
    return rows.order_by(*order).values_list(*_COLUMNS)


def as_rows(found: list[Any]) -> list[NeedRow]:
    """Rows of `rows_of`; those that are read already stay as they are."""
    return [one if isinstance(one, NeedRow) else _row(one) for one in found]


def _shaped(need: Need, shape: Shape) -> tuple[QuerySet[Any], list[Any]]:
    """The rows of a kind with the columns that all kinds share, and their order."""
    columns: dict[str, Any] = {
        "what": Value(need.value, output_field=CharField()),
        "subject": F(shape.subject),
        "called": Cast(shape.name, CharField()),
        "about": Cast(shape.about, CharField()),
        "at": F(shape.at) if shape.at else Cast(Value(None), DateTimeField()),
        "on_day": F(shape.on) if shape.on else Cast(Value(None), DateField()),
    }
    order = [F(shape.at or shape.on).asc()] if shape.at or shape.on else [F("called").asc()]
    return shape.rows.order_by().annotate(**columns), [*order, F("subject").asc()]


def _row(columns: Any) -> NeedRow:
    what, subject, called, about, at, on = columns
    need = Need(what)
    if need is Need.EMAIL:
        about = about_of(about)
    return NeedRow(need, subject, called, about, marked_utc(at) if at else None, on)


def _pressing(row: NeedRow) -> tuple[str, int]:
    when = row.at or row.on
    return when.isoformat() if when else row.name, row.id
