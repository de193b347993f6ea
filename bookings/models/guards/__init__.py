"""Constraints and triggers that hold every rule which a race can break.

`migrate` installs a guard that is missing, because a table was rebuilt, and one whose definition
has changed. A system check and /health/ready report guards that are not in place.
"""

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from bookings.models.guards.definitions import POSTGRESQL, SQLITE, Guard
from bookings.models.guards.refusals import as_refusal

__all__ = ["Guard", "as_refusal", "guards_of", "install", "missing"]


def guards_of(connection: BaseDatabaseWrapper) -> tuple[Guard, ...]:
    """Every guard that this kind of database should have."""
    return SQLITE if connection.vendor == "sqlite" else POSTGRESQL


def install(connection: BaseDatabaseWrapper) -> None:
    """Puts every guard in place, all or none. Raises IntegrityError where rows break one."""
    wrong = missing(connection)
    if not wrong:
        return
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("CREATE EXTENSION IF NOT EXISTS btree_gist")
        for guard in guards_of(connection):
            if guard.name not in wrong:
                continue
            cursor.execute(guard.drop)
            cursor.execute(guard.create)
            if connection.vendor == "postgresql":
                named = f"{guard.kind} {guard.name} ON {guard.table}"
                cursor.execute(f"COMMENT ON {named} IS '{guard.digest}'")


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """The names of guards that are missing or out of date; none before the tables are made."""
    if "bookings_auditrow" not in connection.introspection.table_names():
        return []
    is_sqlite = connection.vendor == "sqlite"
    with connection.cursor() as cursor:
        cursor.execute(_SQLITE_PRESENT if is_sqlite else _POSTGRESQL_PRESENT)
        present = dict(cursor.fetchall())
    return [
        guard.name
        for guard in guards_of(connection)
        if present.get(guard.name) != (guard.create if is_sqlite else guard.digest)
    ]


# SQLite keeps the text of a trigger. PostgreSQL rewrites it, so a comment holds the digest.
_SQLITE_PRESENT = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
_POSTGRESQL_PRESENT = """
SELECT conname, obj_description(oid, 'pg_constraint') FROM pg_constraint WHERE contype = 'x'
UNION ALL
SELECT tgname, obj_description(oid, 'pg_trigger') FROM pg_trigger WHERE NOT tgisinternal
"""
