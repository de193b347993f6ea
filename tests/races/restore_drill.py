"""The drill of docs/operations.md: back a school up while lessons are booked, restore the copy
elsewhere, and look it over.

`python -m tests.races.restore_drill` works on the database server of DATABASE_URL (PostgreSQL), or
on files of its own where that is not set; it touches no existing database. It prints what it did
and fails at the first thing that is not so.
"""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
from psycopg import sql

ROOT = Path(__file__).resolve().parent.parent.parent
WRITES_BEFORE, WRITES_AFTER = 5, 3
PATIENCE = 240  # seconds, on a machine that is busy with other tests


class NotSo(AssertionError):
    """The drill found something that must not be."""


def must(so: bool, what: str) -> None:
    if not so:
        raise NotSo(what)


def child(url: str, folder: Path, *arguments: str) -> subprocess.Popen[str]:
    """Another process of this drill with that database: see restored_school.py."""
    environment = {
        **os.environ,
        "LEVARE_PROFILE": "demo",
        "LEVARE_VAR": str(folder),
        "DATABASE_URL": url,
        "REDIS_URL": "",
    }
    command = [sys.executable, "-m", "tests.races.restored_school", *arguments]
    return subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)


def ask(url: str, folder: Path, *arguments: str) -> Any:
    """What such a process says, as JSON."""
    process = child(url, folder, *arguments)
    told, _ = process.communicate(timeout=PATIENCE)
    must(process.returncode == 0, f"{arguments[0]} ended with {process.returncode}")
    return json.loads(told)


@contextmanager
def lessons_being_booked(url: str, folder: Path) -> Iterator[Callable[[], list[int]]]:
    """Somebody books lessons and cancels some, until the block ends; gives the bookings
    acknowledged so far.
    """
    ledger = folder / "acknowledged"
    ledger.touch()
    writer = child(url, folder, "write", str(ledger))

    def acknowledged() -> list[int]:
        must(writer.poll() is None, "the writer ended")
        return [int(line) for line in ledger.read_text().splitlines()]

    try:
        yield acknowledged
    finally:
        writer.send_signal(signal.SIGTERM)
        writer.communicate(timeout=PATIENCE)


def wait_for(count: int, acknowledged: Callable[[], list[int]]) -> list[int]:
    until = time.monotonic() + PATIENCE
    while len(acknowledged()) < count:
        must(time.monotonic() < until, "nothing is booked")
        time.sleep(0.05)
    return acknowledged()


Rows = dict[str, int]  # by table


def drill(
    url: str,
    copy_url: str,
    folder: Path,
    back_up: Callable[[], Rows | None],
    restore: Callable[[], Rows],
) -> str:
    """The whole drill; a sentence of what was seen."""
    school = ask(url, folder, "load")
    with lessons_being_booked(url, folder) as acknowledged:
        before = wait_for(WRITES_BEFORE, acknowledged)
        counts = back_up()
        at_most = acknowledged()
        wait_for(len(at_most) + WRITES_AFTER, acknowledged)
    restored = restore()
    seen = ask(copy_url, folder, "look", school["secret"], school["now"])
    must(counts is None or counts == restored, f"rows when backed up {counts}, restored {restored}")
    must(
        set(before) <= set(seen["booked"]),
        "a lesson that was acknowledged before the back-up is not in it",
    )
    must(
        len(seen["booked"]) <= len(at_most) + 1,
        "the copy holds lessons that were booked after it was made",
    )
    must(seen["unapplied"] == [], f"migrations are not applied: {seen['unapplied']}")
    must(seen["missing"] == [], f"guards are missing: {seen['missing']}")
    must(seen["findings"] == [], f"audit_places finds {seen['findings']}")
    must(seen["feed"] == school["feed"], "a feed's body is another one")
    rows, lessons = sum(restored.values()), len(seen["booked"])
    return (
        f"{rows} rows of {len(restored)} tables, {lessons} of at least "
        f"{len(at_most) + WRITES_AFTER} lessons booked meanwhile"
    )


def on_postgres(server_url: str, folder: Path) -> str:
    """pg_dump of a snapshot whose rows were counted, pg_restore into a new database."""
    server = urlsplit(server_url)
    names = [f"levare_drill_{os.getpid()}", f"levare_restored_{os.getpid()}"]
    url, copy_url = (server._replace(path=f"/{name}").geturl() for name in names)
    dump = folder / "levare.dump"

    def back_up() -> Rows:
        with psycopg.connect(url) as connection:
            connection.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            row = connection.execute("SELECT pg_export_snapshot()").fetchone()
            counts = rows_of(connection)
            run(
                "pg_dump",
                "--format=custom",
                f"--snapshot={row[0] if row else ''}",
                f"--file={dump}",
                url,
            )
            return counts

    def restore() -> Rows:
        run("pg_restore", "--exit-on-error", "--no-owner", f"--dbname={copy_url}", str(dump))
        with psycopg.connect(copy_url) as connection:
            return rows_of(connection)

    with psycopg.connect(
        server._replace(path="/postgres").geturl(), autocommit=True
    ) as maintenance:
        try:
            for name in names:
                maintenance.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
            return drill(url, copy_url, folder, back_up, restore)
        finally:
            for name in names:
                maintenance.execute(
                    sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name))
                )


def rows_of(connection: psycopg.Connection[Any]) -> Rows:
    tables = connection.execute(
        "SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"
    ).fetchall()
    counted = {}
    for (table,) in tables:
        row = connection.execute(
            sql.SQL("SELECT count(*) FROM {}").format(sql.Identifier(table))
        ).fetchone()
        counted[table] = row[0] if row else 0
    return counted


def run(*command: str) -> None:
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    must(ran.returncode == 0, f"{command[0]}: {ran.stderr[-1000:]}")


def on_sqlite(folder: Path) -> str:
    """VACUUM INTO while the file is written to; the copy is whole and holds together."""
    original, copy = folder / "levare.sqlite3", folder / "copy.sqlite3"

    def back_up() -> None:
        with closing(sqlite3.connect(original, timeout=20)) as connection:
            connection.execute("VACUUM INTO ?", [str(copy)])

    def restore() -> Rows:
        with closing(sqlite3.connect(copy)) as connection:
            must(
                connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)],
                "the copy is damaged",
            )
            must(
                connection.execute("PRAGMA foreign_key_check").fetchall() == [],
                "a row of the copy points nowhere",
            )
            tables = [
                name
                for (name,) in connection.execute(
                    "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1"
                )
            ]
            return {
                name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]
                for name in tables
            }

    return drill(f"sqlite:///{original}", f"sqlite:///{copy}", folder, back_up, restore)


def main() -> int:
    url = os.environ.get("DATABASE_URL", "")
    with tempfile.TemporaryDirectory(prefix="levare-drill-") as folder:
        told = (
            on_postgres(url, Path(folder))
            if url.startswith("postgres")
            else on_sqlite(Path(folder))
        )
    print(f"Backed up under writes, restored and looked over: {told}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
