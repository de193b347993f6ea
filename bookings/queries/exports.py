"""Everything that is stored of one person, read by the data map."""

from collections.abc import Iterable, Iterator
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from django.apps import apps
from django.db.models import Model, Q, QuerySet

from accounts.models import Student
from bookings.queries.data_map import DATA_MAP, Table


class Scope(StrEnum):
    """How much an export tells.

    ADMIN is without what hurts; FAMILY with it; ACCESS with private remarks and drafts as well.
    """

    ADMIN = "admin"
    FAMILY = "family"
    ACCESS = "access"


def stored_of(student: Student, scope: Scope) -> dict[str, list[dict[str, Any]]]:
    """Each list of the export by name, its rows by id: one query a table of the map."""
    return {
        table.name: [_told(table, row, scope) for row in _rows(table, student, scope)]
        for table in DATA_MAP
        if table.name
    }


def meaning_of_columns(scope: Scope) -> dict[str, dict[str, str]]:
    """What each column of each list means, in words."""
    return {
        table.name: {table.opened.get(name, name): words for name, words in _columns(table, scope)}
        for table in DATA_MAP
        if table.name
    }


def rows_of_person(table: Table, student: int, accounts: Iterable[int]) -> QuerySet[Model]:
    """The rows of a table that are this student's or one of these accounts', by the map."""
    model = apps.get_model(table.model)
    whose = Q(pk__in=[])
    if table.student:
        whose |= Q(**{table.student: student})
    # Invitations are found by their address, which only an erasure looks for.
    if table.account and table.account != "email":
        whose |= Q(**{f"{table.account}__in": list(accounts)})
    rows: QuerySet[Model] = model._default_manager.filter(whose)
    return rows


def _rows(table: Table, student: Student, scope: Scope) -> QuerySet[Model]:
    own = [student.user_id] if student.user_id is not None else []
    rows = rows_of_person(table, student.pk, own).order_by("pk")
    if scope != Scope.ACCESS and table.ordinary:
        rows = rows.filter(**_conditions(table))
    joined = {path.rpartition("__")[0] for path in table.joined.values()}
    return rows.select_related(*joined) if joined else rows


def _conditions(table: Table) -> dict[str, Any]:
    return {
        f"{path}__isnull" if value is None else path: True if value is None else value
        for path, value in table.ordinary.items()
    }


def _columns(table: Table, scope: Scope) -> Iterator[tuple[str, str]]:
    yield from table.told.items()
    yield from table.goes.items()
    if scope != Scope.ADMIN:
        yield from table.health.items()
    if scope == Scope.ACCESS:
        yield from table.private.items()


def _told(table: Table, row: Model, scope: Scope) -> dict[str, Any]:
    told = {}
    attnames = {field.name: field.attname for field in row._meta.concrete_fields}
    for name, _ in _columns(table, scope):
        shown = table.opened.get(name)
        value = getattr(row, shown or attnames[name])
        told[shown or name] = value.key if isinstance(value, ZoneInfo) else value
    for name, path in table.joined.items():
        told[name] = _through(row, path)
    return told


def _through(row: Any, path: str) -> Any:
    for step in path.split("__"):
        row = getattr(row, step) if row is not None else None
    return row
