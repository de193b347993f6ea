"""`make bench`: a table of figures, and var/bench.json with what is compared in each.

Everything runs in this one process, on SQLite files in a folder that is removed at the end, or with
`--postgres URL` on databases called levare_bench_* of that server, which are dropped. PROFILE=quick
grows to 100,000 meetings instead of 1,000,000. The exit status is 1 where a ratio or a count misses
its goal; times are told beside `calibration_ms`, a loop of plain Python. Booking beside pgbench
needs PostgreSQL in any case: that of `--postgres`, else of TEST_POSTGRES_URL, where it answers.
"""

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.bench import goals
from tests.bench.timing import calibration_ms

ROOT = Path(__file__).resolve().parents[2]
Figures = tuple[dict[str, float], dict[str, str]]
POSTGRES_URL = os.environ.get("TEST_POSTGRES_URL", "postgres://postgres@127.0.0.1:5432/postgres")


def measured(folder: Path, *, most: int, postgres: str) -> list[Figures]:
    """Every section in turn; Django is set up by now, so what needs it is imported here."""
    from tests.bench import (
        capacity,
        core,
        cover_and_next,
        databases,
        pgbench,
        planning,
        stored,
        whole,
    )

    told(f"the solver alone (load {os.getloadavg()[0]:.1f})")
    found = [core.figures(), capacity.figures(), whole.figures()]
    told("joint decisions")
    found += [planning.figures(), cover_and_next.figures()]
    told("booking beside pgbench")
    found.append(pgbench.booking_beside_pgbench(postgres))
    base, busy, small, large = names = [
        databases.named(name, folder) for name in ("base", "busy", "small", "large")
    ]
    try:
        told(f"a school of {stored.INSTRUCTORS} instructors and {stored.STUDENTS:,} students")
        databases.create(base)
        stored.found_school()
        databases.clone(base, busy)
        found += of_20_000_meetings()
        databases.clone(base, small)
        stored.add_meetings(1000, first_day=1, per_day=1)
        databases.clone(small, large)
        return found + growth(small, large, most)
    finally:
        databases.drop(names)


def of_20_000_meetings() -> list[Figures]:
    """Search, booking and feed, on the database in use."""
    from tests.bench import api, booking, stored, times

    told("20,000 meetings: search, booking, feed")
    stored.add_meetings(20_000, first_day=-36, per_day=4)
    return [
        api.busy_figures(),
        times.times_figures(),
        booking.booking_figures(),
        booking.invitation_figures(),
        booking.feed_figures(),
    ]


def growth(small: str, large: str, most: int) -> list[Figures]:
    """Search and booking among 1,000 meetings and, in the database in use, among `most`.

    Nine tenths of these lie behind, one tenth beyond what a search from today reads.
    """
    from tests.bench import api, booking, stored

    told(f"{most:,} meetings")
    past = (most - 1000) * 9 // 10
    days = -(-past // (stored.INSTRUCTORS * stored.EVERY_DAY))
    stored.add_meetings(past, first_day=-20 - days, per_day=stored.EVERY_DAY)
    stored.add_meetings(most - 1000 - past, first_day=60, per_day=stored.EVERY_DAY)
    told("growth: search and booking in both, in turn")
    meetings = f"1,000 and {most:,}"
    return [
        api.growth(small, large, meetings=meetings),
        booking.growth(small, large, meetings=meetings),
    ]


def machine() -> dict[str, Any]:
    """Where and with what this was measured."""
    from django.db import connection

    from bookings.domain.zones import TZDATA_VERSION

    described = subprocess.run(
        ["git", "describe", "--always", "--dirty"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT sqlite_version()" if connection.vendor == "sqlite" else "SHOW server_version"
        )
        database = f"{connection.vendor} {cursor.fetchone()[0]}"
    return {
        "measured_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "machine": (
            f"{platform.machine()}, {os.cpu_count()} processors, {platform.system()} "
            f"{platform.release()}"
        ),
        "python": platform.python_version(),
        "database": database,
        "tzdata": TZDATA_VERSION,
        "commit": described.stdout.strip(),
        "load_average": [round(load, 1) for load in os.getloadavg()],
        "how": (
            "medians of runs in one process, what is compared run in turn, garbage collected "
            "between runs; rows loaded by plain SQL with "
            "the guards dropped meanwhile and put back"
        ),
    }


def told(text: str) -> None:
    print(f"{time.strftime('%H:%M:%S')}  {text}", flush=True)


def main(arguments: list[str]) -> int:
    read = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    read.add_argument(
        "--postgres",
        metavar="URL",
        help="a server where databases may be made, such as postgres://me@127.0.0.1/postgres",
    )
    asked = read.parse_args(arguments)
    most = 100_000 if os.environ.get("PROFILE") == "quick" else 1_000_000
    with tempfile.TemporaryDirectory(prefix="levare-bench-") as folder:
        set_up(folder, asked.postgres or f"sqlite:///{folder}/levare.sqlite3")
        load = os.getloadavg()[0]
        calibration = calibration_ms()
        found = measured(Path(folder), most=most, postgres=asked.postgres or POSTGRES_URL)
        figures = {"calibration_ms": calibration} | {
            name: round(float(value), 3) for part, _ in found for name, value in part.items()
        }
        compared = {"calibration_ms": "a fixed loop of plain Python: how fast this machine was"} | {
            name: text for _, part in found for name, text in part.items()
        }
        context = {
            **machine(),
            "load_before": round(load, 1),
            "meetings_at_most": most,
            "wanted": {name: goals.wanted(name) for name in figures if goals.wanted(name)},
            "compared": compared,
        }
    keep(figures, context)
    print(table(figures, compared))
    loads = f"load {load:.1f} before, {os.getloadavg()[0]:.1f} after"
    print(f"\n{context['machine']}, {context['database']}, Python {context['python']}, {loads}")
    missed = goals.missed(figures)
    print("\n".join(missed) if missed else "Every goal is reached.")
    return 1 if missed else 0


def set_up(folder: str, database_url: str) -> None:
    """Django with the tests' settings, on that database, with its files in the folder."""
    os.environ["LEVARE_VAR"] = folder
    os.environ["DATABASE_URL"] = database_url
    os.environ["REDIS_URL"] = ""
    os.environ["THROTTLE_USER"] = os.environ["THROTTLE_ANON"] = "100000/min"
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    import django

    django.setup()


def keep(figures: dict[str, float], context: dict[str, Any]) -> None:
    """Writes var/bench.json."""
    kept = ROOT / "var" / "bench.json"
    kept.parent.mkdir(exist_ok=True)
    kept.write_text(
        json.dumps({"figures": figures, "context": context}, indent=2) + "\n", encoding="utf-8"
    )


def table(figures: dict[str, float], compared: dict[str, str]) -> str:
    lines = [f"{'figure':26}{'measured':>10}  {'wanted':8}what is compared"]
    for name, text in compared.items():
        value = f"{figures[name]:.2f}" if name in figures else "-"
        lines.append(f"{name:26}{value:>10}  {goals.wanted(name):8}{text}")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
