"""How the tables of PostgreSQL are emptied after a test that commits."""

from typing import Any

from django.core.management.color import Style
from django.db.backends.base.base import BaseDatabaseWrapper


def delete_what_is_there(connection: BaseDatabaseWrapper) -> None:
    """Let `flush` delete the rows of the tables that have some.

    Django truncates all tables, and the server makes a file anew for each of them and their
    indexes. Only a superuser may delete past the guards: whoever is none goes on truncating.
    """
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper FROM pg_roles WHERE rolname = current_user")
        if not cursor.fetchone()[0]:
            return

    def sql_flush(style: Style, tables: list[str], **_: Any) -> list[str]:
        quoted = [connection.ops.quote_name(table) for table in tables]
        asked = [f"SELECT '{name}' WHERE EXISTS (SELECT FROM {name})" for name in quoted]
        with connection.cursor() as cursor:
            cursor.execute(" UNION ALL ".join(asked))
            filled = [name for (name,) in cursor.fetchall()]
        past_guards = "SET LOCAL session_replication_role = replica"
        return [past_guards, *(f"DELETE FROM {name}" for name in filled)]

    connection.ops.sql_flush = sql_flush
