"""The booking operation beside pgbench, which sends the statements of other bookings of the same kind: what Python costs.

`python -m tests.bench.pgbench URL` does it in a process of its own, on a database of its own on that server, and prints the
figures as JSON: the rest of the bench may be on SQLite.

Bookings are made and rolled back to learn their statements, parameters included. The ids of their rows start at numbers that
occur nowhere else, so that in the script each becomes what the INSERT before it returned: every booking really is stored.
"""

import glob
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from statistics import median
from typing import Any

import psycopg

NAME = "booking_vs_pgbench"
ROUNDS, EACH = 9, 20
FIRST_IDS = {"bookings_meeting": 700_000_000, "bookings_booking": 800_000_000}
"""Numbers like these occur nowhere else in a statement, so that they can be found again in its text."""
Figures = tuple[dict[str, float], dict[str, str]]


@dataclass(frozen=True, slots=True)
class Sent:
    """The statements of one booking, parameters included, and the ids that its rows had, by table."""

    statements: Sequence[str]
    ids: Mapping[str, int]


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
    from tests.bench.booking import bookings_to_make
    from tests.bench.timing import seconds_of

    making = bookings_to_make(2 * EACH * (ROUNDS + 1))
    _start_ids()
    pairs, sent = [], 0
    for number in range(ROUNDS + 1):
        script = folder / f"{number}.sql"
        transactions = [_sent(book) for book in islice(making, EACH)]
        sent = len(transactions[0].statements)
        script.write_text("\n".join(_script(transactions)), encoding="utf-8")
        ours = list(islice(making, EACH))
        stored_before = _stored()
        pair = (
            seconds_of(lambda: [book() for book in ours]) / EACH,  # noqa: B023  called at once
            _run(program, url, script) / EACH,
        )
        if _stored() != stored_before + 2 * EACH:
            raise AssertionError(
                f"{_stored() - stored_before} bookings are stored, and not {2 * EACH}"
            )
        pairs.append(pair)
    pairs = pairs[1:]  # the first one warms both
    ratio = median(theirs / ours for ours, theirs in pairs)
    return {NAME: ratio}, {
        NAME: (
            f"book_slot through the write door, commit included, one client ({median(a for a, _ in pairs) * 1e3:.1f} ms), against pgbench "
            f"with one client sending the {sent} statements of such bookings in transactions ({median(b for _, b in pairs) * 1e3:.1f} ms): "
            f"rate over rate, {ROUNDS} rounds of {EACH} in turn"
        )
    }


def _sent(book: Callable[[], Any]) -> Sent:
    """What one booking sends inside its transaction; the booking is taken back."""
    from django.db import connection, transaction

    from tests.bench.api import statements

    with transaction.atomic():
        with statements() as sent:
            made = book()
        transaction.set_rollback(True)
    with connection.cursor() as cursor:
        texts = [cursor.cursor.mogrify(sql, params) for sql, params in sent]
    return Sent(texts, {"bookings_meeting": made.meeting_id, "bookings_booking": made.pk})


def _script(transactions: Sequence[Sent]) -> Iterator[str]:
    """One pgbench script: each row's id becomes that which its INSERT returned."""
    for number, sent in enumerate(transactions):
        names: dict[int, str] = {}
        yield "BEGIN;"
        for statement in sent.statements:
            for pk, name in names.items():
                statement = re.sub(rf"\b{pk}\b", f":{name}", statement)
            found = re.match(r'INSERT INTO "(\w+)"', statement)
            if found and found[1] in sent.ids:
                prefix = f"{found[1]}_{number}_"
                names[sent.ids[found[1]]] = f"{prefix}id"
                yield f"{statement} \\gset {prefix}"
            else:
                yield f"{statement};"
        yield "COMMIT;"


def _start_ids() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        for table, first in FIRST_IDS.items():
            cursor.execute(
                "SELECT setval(pg_get_serial_sequence(%s, 'id'), %s, false)", [table, first]
            )


def _stored() -> int:
    from bookings.models import Booking

    return Booking.objects.count()


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
        from tests.bench import stored

        name = stored.named("pgbench", Path(folder))
        try:
            stored.create(name)
            stored.found_school()
            stored.add_meetings(20_000, first_day=-36, per_day=4)
            found = compared(program, _of(url, name), Path(folder))
        finally:
            stored.drop([name])
    print(json.dumps(found))
    return 0


def _of(url: str, database: str) -> str:
    """The same server, that database."""
    return psycopg.conninfo.make_conninfo(url, dbname=database)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
