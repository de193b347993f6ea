"""The sessions that a PostgreSQL server keeps for a database."""

from django.db.backends.base.base import BaseDatabaseWrapper


def end_others(connection: BaseDatabaseWrapper) -> None:
    """End every session of this database but that of `connection`; SQLite has none to end."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
