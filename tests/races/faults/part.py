"""One part of the faults in a process of its own: `python -m tests.races.faults.part PART SEED
COUNT FOLDER`.

K1 kills on PostgreSQL with Redis, K2 kills on SQLite, D1 a full disk, M1 a failing mail server.
Writes FOLDER/report.json.
"""

import json
import os
import sys
from pathlib import Path
from typing import Any


def play(part: str, seed: int, count: int, folder: Path) -> dict[str, Any]:
    """The record of one part; its processes are gone afterwards."""
    if part in ("K1", "K2"):
        from tests.races.faults import kills

        return kills.play("postgresql" if part == "K1" else "sqlite", seed, count, folder)
    if part == "D1":
        from tests.races.faults import disk

        return disk.play(seed, count, folder)
    os.environ.update(
        DJANGO_SETTINGS_MODULE="config.settings",
        LEVARE_PROFILE="test",
        LEVARE_VAR=str(folder),
        LEVARE_LOG="CRITICAL",  # what is given up is looked at afterwards
        DATABASE_URL=f"sqlite:///{folder}/levare.sqlite3",
        REDIS_URL="",
    )
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    from tests.races.faults import mails

    return mails.play(seed, count)


if __name__ == "__main__":
    name, seed, count, folder = sys.argv[1:]
    record = play(name, int(seed), int(count), Path(folder))
    (Path(folder) / "report.json").write_text(json.dumps(record), encoding="utf-8")
