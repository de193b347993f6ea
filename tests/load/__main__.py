"""`make load`: what one machine carries: bookings, searches, feed polls and emails a second.

    python -m tests.load [--seconds 4] [--clients 8] [--database sqlite|postgresql]

A gunicorn as in production serves stored schools of three sizes on loopback: on PostgreSQL with
Redis where they answer, else on a SQLite file. Clients send one request after another, and share
the machine with server and database. Beside each rate stands its ratio to GET /health/live/, a view
of Django that reads nothing, in the same server; beside it pgbench's own transactions a second.
Prints tables and writes var/load.json; the exit status is 1 where an answer was not the one wanted.
From the environment, as for the tests: TEST_POSTGRES_URL, TEST_REDIS_URL.
"""

import argparse
import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from tests.bench.timing import calibration_ms
from tests.load.mails import mail_server

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / "var" / "load.json"


def main(arguments: list[str]) -> int:
    read = argparse.ArgumentParser(
        prog="python -m tests.load",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    read.add_argument("--seconds", type=float, default=4, help="of each figure")
    read.add_argument("--clients", type=int, default=8)
    read.add_argument("--database", choices=["sqlite", "postgresql"])
    chosen = read.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="levare-load-") as folder, mail_server() as port:
        services = set_up(folder, chosen.database, port)
        load, calibration = os.getloadavg()[0], calibration_ms()
        from tests.bench.__main__ import machine
        from tests.load import runs

        found: dict[str, Any] = {
            "calibration_ms": calibration,
            "load_before": round(load, 1),
            "services": services,
            "clients": chosen.clients,
            "seconds": chosen.seconds,
        }
        found |= runs.all_sizes(Path(folder), seconds=chosen.seconds, clients=chosen.clients)
        found["machine"] = machine()
        found["calibration_ms_after"] = calibration_ms()
    KEPT.parent.mkdir(exist_ok=True)
    KEPT.write_text(json.dumps(found, indent=2) + "\n", encoding="utf-8")
    print(runs.tables(found))
    return 1 if runs.wrong(found) else 0


def set_up(folder: str, chosen: str | None, mail_port: int) -> str:
    """Django with the tests' settings on the services that answer; which these are."""
    from tests import run

    on_postgres = chosen != "sqlite" and run.postgres_version() is not None
    if chosen == "postgresql" and not on_postgres:
        raise SystemExit("PostgreSQL must answer here: set TEST_POSTGRES_URL.")
    redis = run.REDIS_URL if on_postgres and run.redis_version() else ""
    url = f"sqlite:///{folder}/levare.sqlite3"
    if on_postgres:
        url = urlsplit(run.POSTGRES_URL)._replace(path="/postgres").geturl()
    os.environ |= {
        "LEVARE_VAR": folder,
        "DATABASE_URL": url,
        "REDIS_URL": redis,
        "OUTBOX_THREAD": "false",
        "EMAIL_URL": f"smtp://127.0.0.1:{mail_port}",
        "THROTTLE_USER": "1000000/min",
        "THROTTLE_ANON": "1000000/min",
        "DJANGO_SETTINGS_MODULE": "tests.settings",
    }
    import django

    django.setup()
    database = f"PostgreSQL {run.postgres_version()}" if on_postgres else "SQLite"
    return f"{database}, {'Redis' if redis else 'no Redis'}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
