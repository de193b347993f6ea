"""The booking operation beside pgbench, which sends the statements kept in booking.sql: what Python
costs.

`python -m tests.bench.pgbench URL` does it in a process of its own, on a database of its own on
that server, and prints the figures as JSON: the rest of the bench may be on SQLite.
"""

import glob
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from datetime import timedelta
from itertools import islice
from pathlib import Path
from statistics import median
from string import Template
from typing import TYPE_CHECKING
from uuid import uuid4
from zoneinfo import ZoneInfo

import psycopg
from psycopg import sql

if TYPE_CHECKING:
    from tests.bench.booking import Wish

NAME = "booking_vs_pgbench"
ROUNDS, EACH = 9, 20
KEPT = Path(__file__).with_name("booking.sql")
Figures = tuple[dict[str, float], dict[str, str]]


def booking_beside_pgbench(url: str) -> Figures:
    """The figure; none, and why, where no server or no pgbench is there."""
    program = pgbench()
    if program is None:
        return {}, {NAME: "not measured: pgbench is not installed"}
    try:
        psycopg.connect(url, connect_timeout=2).close()
    except psycopg.Error:
        return {}, {NAME: "not measured: PostgreSQL does not answer"}
    told = subprocess.run(
        [sys.executable, "-m", "tests.bench.pgbench", url],
        capture_output=True,
        text=True,
        check=True,
    )
    figures, compared = json.loads(told.stdout.splitlines()[-1])
    return figures, compared


def pgbench() -> str | None:
    """The program, which Debian keeps beside the server's."""
    return shutil.which("pgbench") or max(
        glob.glob("/usr/lib/postgresql/*/bin/pgbench"), default=None
    )


def compared(program: str, url: str, folder: Path) -> Figures:
    """Twenty bookings of ours and twenty of pgbench's in turn, on the database in use."""
    from tests.bench.booking import wishes
    from tests.bench.timing import seconds_of

    wished, pairs = wishes(2 * EACH * (ROUNDS + 1)), []
    for number in range(ROUNDS + 1):
        script = folder / f"{number}.sql"
        script.write_text("\n".join(kept(one) for one in islice(wished, EACH)), encoding="utf-8")
        ours = list(islice(wished, EACH))
        seconds = seconds_of(lambda: [one.book() for one in ours])  # noqa: B023  called at once
        before = _stored()
        pair = seconds / EACH, _run(program, url, script) / EACH
        made = [now - then for now, then in zip(_stored(), before, strict=True)]
        if made != [EACH, 4 * EACH]:
            raise AssertionError(f"{made} rows are stored, not {EACH} bookings with 4 messages")
        pairs.append(pair)
    pairs = pairs[1:]  # the first one warms both
    ratio = median(theirs / ours for ours, theirs in pairs)
    return {NAME: ratio}, {
        NAME: (
            "book_slot through the write door, commit included, one client "
            f"({median(a for a, _ in pairs) * 1e3:.1f} ms), against pgbench "
            f"with one client sending the 14 statements kept in {KEPT.name} "
            f"({median(b for _, b in pairs) * 1e3:.1f} ms): "
            f"rate over rate, {ROUNDS} rounds of {EACH} in turn"
        )
    }


def kept(wish: "Wish") -> str:
    """The kept statements for that booking, as one transaction of pgbench."""
    statements = Template(KEPT.read_text(encoding="utf-8").partition("\n\n")[2])
    return f"BEGIN;\n{statements.substitute(_literals(wish))}COMMIT;\n"


def _literals(wish: "Wish") -> dict[str, str]:
    """What the names in the kept statements stand for, as SQL."""
    from bookings.domain.openings import WHOLE_DAY
    from bookings.models import StudioPolicy
    from bookings.queries.teaching import zone_of_hours
    from tests.bench import stored

    hours = zone_of_hours(wish.instructor)
    at, wall = wish.starts_at, wish.starts_at.astimezone(ZoneInfo(hours))
    ends_at = at + timedelta(minutes=stored.MINUTES)
    day, load, reach = timedelta(days=1), timedelta(days=9), timedelta(hours=12)
    values = {
        "student": wish.student.pk,
        "student_user": wish.student.user_id,
        "level": wish.student.level,
        "instructor": wish.instructor.pk,
        "instructor_user": wish.instructor.user_id,
        "offering": wish.offering.pk,
        "policy": StudioPolicy.objects.get().pk,
        "now": stored.NOW,
        "starts_at": at,
        "ends_at": ends_at,
        "held_until": ends_at + timedelta(minutes=5),
        "hour_before": at - timedelta(hours=1),
        "busy_since": at - day - WHOLE_DAY,
        "busy_until": at + day + WHOLE_DAY,
        "day_reach": at - day - reach,
        "day_since": at - day,
        "day_until": at + day,
        "load_reach": at - load - reach,
        "load_since": at - load,
        "load_until": at + load,
        "wall_on": wall.date(),
        "wall_at": wall.time(),
        "fold": wall.fold,
        "time_zone": hours,
        "uid": uuid4(),
    }
    return {name: sql.Literal(value).as_string() for name, value in values.items()}


def _stored() -> tuple[int, int]:
    """How many bookings and messages are stored."""
    from bookings.models import Booking, OutboxMessage

    return Booking.objects.count(), OutboxMessage.objects.count()


def _run(program: str, url: str, script: Path) -> float:
    """Seconds that pgbench needs for the script once, without connecting."""
    command = [
        program,
        "--no-vacuum",
        "--client=1",
        "--transactions=1",
        "--protocol=simple",
        f"--file={script}",
        url,
    ]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    rate = re.search(
        r"^tps = ([\d.]+) \(without initial connection time\)", ran.stdout, re.MULTILINE
    )
    if ran.returncode or rate is None or "number of failed transactions: 0" not in ran.stdout:
        raise AssertionError(ran.stdout + ran.stderr)
    return 1 / float(rate[1])


def main(url: str) -> int:
    program = pgbench()
    if program is None:
        return 1
    with tempfile.TemporaryDirectory(prefix="levare-bench-") as folder:
        os.environ.update(
            LEVARE_VAR=folder,
            DATABASE_URL=url,
            REDIS_URL="",
            DJANGO_SETTINGS_MODULE="tests.settings",
        )
        import django

        django.setup()
        from tests.bench import databases, stored

        name = databases.named("pgbench", Path(folder))
        try:
            databases.create(name)
            stored.found_school()
            stored.add_meetings(20_000, first_day=-36, per_day=4)
            found = compared(program, _of(url, name), Path(folder))
        finally:
            databases.drop([name])
    print(json.dumps(found))
    return 0


def _of(url: str, database: str) -> str:
    """The same server, that database."""
    return psycopg.conninfo.make_conninfo(url, dbname=database)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
