"""`make races`: races over real HTTP with their history checker, on SQLite and on PostgreSQL with
Redis where they answer.

    python -m tests.races [--only R5 C1] [--seed N] [--database sqlite|postgresql]

Prints a table and writes var/races.json; the exit status is 1 where a figure that must be 0 is not,
a ratio is above its bound, or a control was not caught. Times are told beside `calibration_ms`, a
fixed loop of plain Python. Each database is made for the run, filled with 20,000 meetings once, and
dropped at the end. PROFILE=long plays many rounds. From the environment, as for the tests:
TEST_POSTGRES_URL, TEST_REDIS_URL, REQUIRE_SERVICES=1.
"""

import argparse
import json
import os
import secrets
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / "var" / "races.json"


def databases(chosen: str | None) -> list[str]:
    """The databases to play on: those that answer, or the one asked for."""
    from tests import run, services

    found = ["sqlite"]
    if run.postgres_version() is not None:
        found.append("postgresql")
    elif services.required() or chosen == "postgresql":
        raise SystemExit("PostgreSQL must answer here: set TEST_POSTGRES_URL.")
    else:
        print("PostgreSQL: left out, it does not answer")
    return [name for name in found if chosen in {None, name}]


def played_in(database: str, folder: Path, seed: int, only: list[str]) -> dict[str, Any]:
    """One database's part, in a process of its own: Django reads its settings once."""
    from tests import run

    name = f"levare_races_{os.getpid()}"
    places = {
        "sqlite": f"sqlite:///{folder}/races.sqlite3",
        "postgresql": urlsplit(run.POSTGRES_URL)._replace(path=f"/{name}").geturl(),
    }
    on_services = database == "postgresql"
    environment = {
        "LEVARE_VAR": str(folder),
        "DATABASE_URL": places[database],
        "REDIS_URL": run.REDIS_URL if on_services and run.redis_version() else "",
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "RACES_ADMIN_URL": run.POSTGRES_URL,
    }
    report = folder / f"{database}.json"
    command = [sys.executable, "-m", "tests.races.match", str(report), str(seed), *only]
    try:
        done = subprocess.run(command, cwd=ROOT, env=os.environ | environment, check=False)
    finally:
        if on_services:
            run.drop_databases(name)
    if done.returncode or not report.exists():
        raise SystemExit(f"{database}: the races stopped with {done.returncode}")
    answer: dict[str, Any] = json.loads(report.read_text(encoding="utf-8"))
    return answer


def main(arguments: list[str]) -> int:
    from tests.bench.timing import calibration_ms
    from tests.races import report

    read = argparse.ArgumentParser(
        prog="python -m tests.races",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    read.add_argument(
        "--only",
        metavar="RACE",
        nargs="+",
        default=[],
        help="some of R1 to R19, R21, R22 and of the controls C1 and C2",
    )
    read.add_argument(
        "--seed", type=int, help="what decides the shots; printed, and new each time where left out"
    )
    read.add_argument("--database", choices=["sqlite", "postgresql"], help="one database only")
    asked = read.parse_args(arguments)
    seed = secrets.randbelow(1_000_000) if asked.seed is None else asked.seed
    print(f"seed {seed}", flush=True)
    parts, calibration = {}, calibration_ms()
    for database in databases(asked.database):
        with tempfile.TemporaryDirectory(prefix="levare-races-") as folder:
            parts[database] = played_in(database, Path(folder), seed, asked.only)
    result = report.joined(parts)
    result["figures"][report.CALIBRATION] = calibration
    if not asked.only:
        report.add_faults(result, os.environ.get("PROFILE") or "quick")
    KEPT.parent.mkdir(exist_ok=True)
    KEPT.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")
    print(report.table(result))
    wrong = report.failures(result, whole=not asked.only, databases=list(parts))
    print(
        "\n".join(wrong) if wrong else "Everything that must be 0 is, and every control was caught."
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
