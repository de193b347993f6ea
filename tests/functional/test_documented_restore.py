"""The commands of docs/operations.md for back-up and restore, run as they are written, on a database of this test's own."""

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest
from psycopg import sql

from tests import services
from tests.architecture.deployment import OPERATIONS_PAGE

pytestmark = pytest.mark.postgres
OURS = f"levare_documented_{os.getpid()}"
CONTAINER = "docker compose exec -T postgres "


def documented(heading: str) -> list[str]:
    """The commands for the database's container under one heading, with this test's names and server."""
    section = OPERATIONS_PAGE.split(f"## {heading}\n")[1].split("\n## ")[0]
    lines = re.findall(rf"^ *{re.escape(CONTAINER)}(.+)$", section, re.MULTILINE)
    user = urlsplit(os.environ["DATABASE_URL"]).username
    return [
        re.sub(r"\blevare(_new|_old)?\b(?!\.dump)", rf"{OURS}\1", line).replace(
            f"--username {OURS}", f"--username {user}"
        )
        for line in lines
    ]


@pytest.fixture
def address() -> Iterator[str]:
    """A database with one row; what the commands make of it is dropped at the end."""
    if shutil.which("pg_dump") is None:
        (pytest.fail if services.required() else pytest.skip)("pg_dump is not installed")
    url = urlsplit(os.environ["DATABASE_URL"])
    with psycopg.connect(url._replace(path="/postgres").geturl(), autocommit=True) as server:
        server.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(OURS)))
        try:
            yield url._replace(path=f"/{OURS}").geturl()
        finally:
            for name in (OURS, f"{OURS}_new", f"{OURS}_old"):
                drop = sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)")
                server.execute(drop.format(sql.Identifier(name)))


def run(commands: list[str], folder: Path) -> None:
    url = urlsplit(os.environ["DATABASE_URL"])
    server = {"PGHOST": url.hostname or "", "PGPORT": str(url.port or 5432)}
    environment = {**os.environ, **server, "PGPASSWORD": url.password or ""}
    for command in commands:
        subprocess.run(["/bin/sh", "-ec", command], cwd=folder, env=environment, check=True)


def words(address: str) -> list[str]:
    with psycopg.connect(address) as database:
        return [row[0] for row in database.execute("SELECT word FROM kept ORDER BY word")]


def test_a_dump_is_restored_by_the_documented_commands(address: str, tmp_path: Path) -> None:
    """What was there when the dump was made is there again, and what stood at its place is kept under another name."""
    with psycopg.connect(address, autocommit=True) as database:
        database.execute("CREATE TABLE kept (word text)")
        database.execute("INSERT INTO kept VALUES ('before')")
    backed_up, restored = documented("Back up"), documented("Restore")
    assert len(backed_up) == 1 and len(restored) == 4
    run(backed_up, tmp_path)
    with psycopg.connect(address, autocommit=True) as database:
        database.execute("INSERT INTO kept VALUES ('after')")
    run(restored, tmp_path)
    assert words(address) == ["before"]
    assert words(address.replace(OURS, f"{OURS}_old")) == ["after", "before"]
