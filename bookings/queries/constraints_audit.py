"""Audit of the declared constraints and guards: they are there, and every row keeps them.

One query for each constraint, over the whole table.
"""

from collections.abc import Iterable, Iterator
from typing import Any, cast

from django.apps import apps
from django.db import connection
from django.db.models import (
    BooleanField,
    CheckConstraint,
    Count,
    ExpressionWrapper,
    F,
    Min,
    Model,
    Q,
    UniqueConstraint,
)

from bookings.models import guards
from bookings.queries.audit_findings import Finding


def guards_in_place() -> Iterator[Finding]:
    """Guards and constraints that the database lacks."""
    missing = [("database", name) for name in guards.missing(connection)]
    with connection.cursor() as cursor:
        for model in _models():
            table = model._meta.db_table
            there = connection.introspection.get_constraints(cursor, table)
            names = [str(constraint.name) for constraint in model._meta.constraints]
            missing += [(table, name) for name in names if name not in there]
    for thing, name in missing:
        yield Finding("guard-missing", thing, None, f"the guard {name} is missing.")


def rows_keep_the_checks() -> Iterator[Finding]:
    """Rows that break a check constraint."""
    for model in _models():
        for check in model._meta.constraints:
            if isinstance(check, CheckConstraint):
                for pk in _breaking(model, check):
                    yield Finding(check.name, _word(model), pk, f"breaks {check.name}.")


def _breaking(model: type[Model], check: CheckConstraint) -> Iterable[int]:
    # An expression of its own, so that unknown counts as kept, as in a database's CHECK.
    kept = ExpressionWrapper(cast(Q, check.condition), output_field=BooleanField())
    rows = model._default_manager.annotate(_kept=kept).filter(_kept=False)
    return rows.order_by("pk").values_list("pk", flat=True)


def rows_keep_the_uniques() -> Iterator[Finding]:
    """Rows that are there more than once, against a unique constraint."""
    for model in _models():
        for unique in model._meta.constraints:
            if isinstance(unique, UniqueConstraint):
                for row in _repeated(model, unique):
                    told = f"is there {row['rows']} times, against {unique.name}."
                    yield Finding(unique.name, _word(model), row["first"], told)


def _repeated(model: type[Model], unique: UniqueConstraint) -> Iterable[dict[str, Any]]:
    """How many `rows` are alike, and the `first` of them."""
    columns = unique.expressions or map(F, unique.fields)
    parts: dict[str, Any] = {f"_part{i}": part for i, part in enumerate(columns)}
    rows = model._default_manager.annotate(**parts).filter(unique.condition or Q())
    alike = rows.exclude(_any_null(parts)).order_by().values(*parts)
    return alike.annotate(rows=Count("pk"), first=Min("pk")).filter(rows__gt=1)


def _models() -> list[type[Model]]:
    return [
        model for app in ("accounts", "bookings") for model in apps.get_app_config(app).get_models()
    ]


def _word(model: type[Model]) -> str:
    return str(model._meta.verbose_name)


def _any_null(names: Iterable[str]) -> Q:
    """Whether any part is null: for SQL's UNIQUE such a row is like no other."""
    nulls = Q()
    for name in names:
        nulls |= Q(**{f"{name}__isnull": True})
    return nulls
