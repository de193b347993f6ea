"""How the product uses its database, SQLite or PostgreSQL."""

from pathlib import Path
from typing import Any


def database(address: dict[str, Any], *, test_file: Path) -> dict[str, Any]:
    """Django's settings for the database at that parsed address; `test_file` is SQLite's for tests.

    The write door opens every transaction, so requests open none. What the address of PostgreSQL
    says of its connections wins: behind a pooler they are not kept.
    """
    common = {**address, "ATOMIC_REQUESTS": False}
    if not address["ENGINE"].endswith("sqlite3"):
        # PostgreSQL would compile each part of a large statement to machine code before it answers.
        # The compiling takes several times as long as any answer here.
        options = {"options": "-c jit=off", **address.get("OPTIONS", {})}
        return {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True, **common, "OPTIONS": options}
    # Every transaction takes SQLite's one write lock at once and waits its turn. A transaction that
    # asked for it later could fail half-way.
    options = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL;",
    }
    return {**common, "OPTIONS": options, "TEST": {"NAME": str(test_file)}}
