"""Queries whose SQL is kept, and whose rows are read by the driver alone.

Django takes several times as long to write a union as the database takes to answer it. Its own
reading of an instant from PostgreSQL takes fourteen times as long as the driver's, and a search
reads 27,000 of them. Both read the same: the sessions of our connections are in UTC.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from functools import wraps
from typing import Any

from django.db import connection
from django.db.models import QuerySet
from psycopg.types.datetime import TimestamptzLoader

Argument = int | date | datetime | tuple[int, ...] | None
_MOST_KEPT = 200
# Stand-ins that no row can hold. A query's parameter that equals one is replaced by the argument.
_FIRST_NUMBER, _FIRST_INSTANT = -(10**15), datetime(9000, 1, 1, tzinfo=UTC)


def prepared(build: Callable[..., QuerySet[Any, Any]]) -> Callable[..., list[tuple[Any, ...]]]:
    """Turns `build`, which returns a queryset of plain values, into a function that runs the query.

    The SQL is written once for each shape: the database's kind, whether a transaction is open (a
    lock is written inside one only), which arguments are None, and how many ids a tuple holds.
    `build` may tell those apart; otherwise it must put its arguments into the query as they come.
    With more ids than _MOST_KEPT it is written each time, so that the kept ones stay few. Rows are
    the database's own values: SQLite gives instants in UTC without a zone, and dates as the column
    declares them.
    """
    kept: dict[tuple[Any, ...], tuple[str, list[Any]]] = {}

    @wraps(build)
    def run(*arguments: Argument) -> list[tuple[Any, ...]]:
        shape = (
            connection.vendor,
            connection.in_atomic_block,
            *(len(one) if isinstance(one, tuple) else type(one) for one in arguments),
        )
        values = [_adapted(one) for one in _flat(arguments)]
        sql, places = kept.get(shape) or _written(build, arguments)
        if len(values) <= _MOST_KEPT:
            kept[shape] = sql, places
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.adapters.register_loader("timestamptz", TimestamptzLoader)
            cursor.execute(
                sql, [values[place] if isinstance(place, _Place) else place for place in places]
            )
            return list(cursor.fetchall())

    return run


class _Place(int):
    """The number of the argument that goes here, those of a tuple counted one by one."""


def _written(
    build: Callable[..., QuerySet[Any, Any]], arguments: tuple[Argument, ...]
) -> tuple[str, list[Any]]:
    numbers = iter(range(len(_flat(arguments))))

    def stand_in(one: Argument) -> Argument:
        if isinstance(one, tuple):
            return tuple(_FIRST_NUMBER + next(numbers) for _ in one)
        if isinstance(one, datetime):
            return _FIRST_INSTANT + timedelta(days=next(numbers))
        if isinstance(one, date):
            return _FIRST_INSTANT.date() + timedelta(days=next(numbers))
        return None if one is None else _FIRST_NUMBER + next(numbers)

    standing_in = tuple(stand_in(one) for one in arguments)
    place_of = {_adapted(one): _Place(i) for i, one in enumerate(_flat(standing_in))}
    sql, parameters = build(*standing_in).query.sql_with_params()
    return sql, [place_of.get(one, one) for one in parameters]


def _flat(arguments: tuple[Argument, ...]) -> list[int | date]:
    flat: list[int | date] = []
    for one in arguments:
        flat += one if isinstance(one, tuple) else [] if one is None else [one]
    return flat


def _adapted(one: int | date) -> Any:
    if isinstance(one, datetime):
        return connection.ops.adapt_datetimefield_value(one)
    return connection.ops.adapt_datefield_value(one) if isinstance(one, date) else one
