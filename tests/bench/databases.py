"""The databases of the bench: made, cloned, used and dropped."""

import shutil
from collections.abc import Iterable
from pathlib import Path

from django.core.management import call_command
from django.db import connection


def use(name: str) -> None:
    """Talk to that database from now on: a SQLite file or a PostgreSQL database."""
    connection.close()
    connection.settings_dict["NAME"] = name


def named(name: str, folder: Path) -> str:
    """What a database of the bench is called."""
    return (
        str(folder / f"{name}.sqlite3") if connection.vendor == "sqlite" else f"levare_bench_{name}"
    )


def create(name: str) -> None:
    """An empty database, migrated."""
    if connection.vendor != "sqlite":
        _in_postgres(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)", f"CREATE DATABASE {name}")
    use(name)
    call_command("migrate", verbosity=0)


def clone(source: str, target: str) -> None:
    """The same rows once more under another name."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
        shutil.copyfile(source, target)
    else:
        _in_postgres(
            f"DROP DATABASE IF EXISTS {target} WITH (FORCE)",
            f"CREATE DATABASE {target} TEMPLATE {source}",
        )
    use(target)


def drop(names: Iterable[str]) -> None:
    """PostgreSQL databases of the bench are dropped; SQLite files go with their folder."""
    if connection.vendor != "sqlite":
        _in_postgres(*(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)" for name in names))


def _in_postgres(*statements: str) -> None:
    use("postgres")
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
    connection.close()
