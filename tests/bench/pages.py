"""Every page as every role among 5,000 students and 20,000 meetings: statements, ms, bytes.

`python -m tests.bench.pages [--postgres URL] [--slow MS]` prints the slowest and writes
var/pages.json. Each page is asked for once to warm it up, then the quickest of three counts.
"""

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any
from unittest import mock
from urllib.parse import urlencode

from tests.bench.__main__ import ROOT, set_up, told
from tests.bench.timing import calibration_ms

RUNS = 3
NOT_PAGES = (302, 403, 404, 405)


@dataclass(frozen=True, slots=True)
class Seen:
    """One page as one role: what one GET of it cost. `ms` is the quickest of some."""

    role: str
    address: str
    status: int
    statements: int
    ms: float
    kb: float


def clock_of(vendor: str) -> Callable[[], float]:
    """The seconds that count. SQLite works in this process: they are the processor's, which
    neighbours on a busy machine hardly lengthen. With PostgreSQL they are those that pass.
    """
    return time.process_time if vendor == "sqlite" else time.perf_counter


def walk(
    school: Any, pages: Any = None, *, runs: int = RUNS, enough_ms: float = 0
) -> Iterator[Seen]:
    """Every address that a GET may be sent to, as everybody; refusals and ways on are left out.

    A page is asked for until it takes at most `enough_ms`, but no more than `runs` times after a
    first one that warms it up, on `clock_of` the database in use.
    """
    from django.db import connection

    from tests.functional.pages.at_scale import pages_at_scale, readers
    from tests.functional.pages.everywhere import answered
    from tests.functional.pages.school import as_user

    pages = pages or pages_at_scale(school)
    clock = clock_of(connection.vendor)
    for role, user in readers(school).items():
        client = as_user(user)
        for address, query in pages:
            begun = clock()
            response, count = answered(client, address, query)
            if response.status_code in NOT_PAGES:
                continue
            took = (clock() - begun) * 1e3
            if took > enough_ms:
                took = min(_timed(clock, client, address, query, enough_ms, runs))
            size = 0 if response.streaming else len(response.content) / 1000
            shown = f"{address}?{urlencode(query)}" if query else address
            yield Seen(role, shown, response.status_code, count, round(took, 1), round(size, 1))


def _timed(
    clock: Callable[[], float], client: Any, address: str, query: Any, enough_ms: float, runs: int
) -> Iterator[float]:
    """What each GET of a page takes in milliseconds, until one takes at most `enough_ms`."""
    for _ in range(runs):
        begun = clock()
        client.get(address, query)
        took = (clock() - begun) * 1e3
        yield took
        if took <= enough_ms:
            return


def main(arguments: list[str]) -> int:
    read = argparse.ArgumentParser(prog="python -m tests.bench.pages", description=__doc__)
    read.add_argument("--postgres", metavar="URL")
    read.add_argument("--slow", type=float, default=60)
    read.add_argument("--out", default=str(ROOT / "var" / "pages.json"))
    chosen = read.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="levare-pages-") as folder:
        set_up(folder, chosen.postgres or f"sqlite:///{folder}/levare.sqlite3")
        found = measured(folder, is_postgres=bool(chosen.postgres))
    found.sort(key=lambda one: -one.ms)
    Path(chosen.out).parent.mkdir(exist_ok=True)
    Path(chosen.out).write_text(json.dumps([asdict(one) for one in found], indent=1) + "\n")
    for one in found:
        if one.ms >= chosen.slow or one.statements > 12:
            print(
                f"{one.ms:8.1f} ms {one.statements:3} {one.kb:7.1f} kB {one.status} "
                f"{one.role:18} {one.address}"
            )
    print(f"{len(found)} pages; calibration {calibration_ms()} ms")
    return 0


def measured(folder: str, *, is_postgres: bool) -> list[Seen]:
    from django.test.utils import setup_test_environment

    from tests.bench import databases
    from tests.cast import NOW
    from tests.functional.pages.at_scale import make_crowded_school

    setup_test_environment(debug=False)
    name = "levare_bench_pages" if is_postgres else f"{folder}/pages.sqlite3"
    try:
        databases.create(name)
        with mock.patch("bookings.clock.now", return_value=NOW):
            begun = time.perf_counter()
            school = make_crowded_school()
            told(f"the school stands after {time.perf_counter() - begun:.1f} s")
            found = list(walk(school))
            told("walked")
        return found
    finally:
        databases.drop([name])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
