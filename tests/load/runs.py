"""The figures of each size of school, and of more and fewer processes for one of them."""

import re
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.cache import cache

from tests.bench import databases
from tests.bench.__main__ import told
from tests.bench.pgbench import pgbench
from tests.load import school
from tests.load.clients import Request, played
from tests.load.mails import drained
from tests.load.school import Size
from tests.races.server import database_url, serve

SIZES = (Size(1000, 2000), Size(5000, 20_000), Size(50_000, 200_000))
PROCESSES = (1, 2, 4)
"""Of four threads each."""
TRIVIAL = Request(path="/health/live/")
MOST_MAILS = 400
THROTTLE = "1000000/min"


def all_sizes(folder: Path, *, seconds: float, clients: int) -> dict[str, Any]:
    """Every figure: `sizes` by size and kind, `processes` by their number and kind, `pgbench`."""
    base, bare, *names = [
        databases.named(f"load_{part}", folder) for part in ("base", "pgbench", 0, 1, 2)
    ]
    found: dict[str, Any] = {"sizes": {}, "processes": {}}
    load, log = {"seconds": seconds, "clients": clients}, folder / "server.log"
    try:
        databases.create(base)
        for name, size in zip(names, SIZES, strict=True):
            told(f"{size}: stored")
            databases.clone(base, name)
            school.found(size)
            found["sizes"][str(size)] = _of_size(log, **load)
            if size is SIZES[1]:
                found["processes"] = _of_processes(log, **load)
        told("pgbench")
        found["pgbench_tps"] = _pgbench(bare, clients)
    finally:
        cache.clear()
        databases.drop([base, bare, *names])
    return found


def _of_size(log: Path, **load: Any) -> dict[str, Any]:
    told("  searches, pages, feeds, bookings")
    feeds = school.feeds()
    kinds: dict[str, Sequence[Request]] = {
        "nothing read": [TRIVIAL],
        "searches": school.searches(),
        "Times pages": school.pages(),
        "feeds whole": feeds,
        "feed polls": school.polls(feeds),
    }
    bookings = school.bookings(school.NEW)
    found = {}
    with serve(throttle=THROTTLE, log=log) as port:
        for name, requests in kinds.items():
            found[name] = _figures(port, requests, once=False, **load)
        found["bookings"] = _figures(port, bookings, once=True, **load)
    told("  emails")
    sent = drained(MOST_MAILS, load["seconds"])
    found["emails"] = {"rate": round(sent.rate, 1), "count": sent.count}
    return _beside_nothing(found)


def _of_processes(log: Path, **load: Any) -> dict[str, Any]:
    found = {}
    searches = school.searches()
    for workers in PROCESSES:
        told(f"  {workers} processes")
        with serve(workers=workers, throttle=THROTTLE, log=log) as port:
            found[str(workers)] = _beside_nothing(
                {
                    "nothing read": _figures(port, [TRIVIAL], once=False, **load),
                    "searches": _figures(port, searches, once=False, **load),
                }
            )
    return found


def _figures(port: int, requests: Sequence[Request], **load: Any) -> dict[str, Any]:
    played(port, requests[:1] if load["once"] else requests, **load | {"seconds": 1.0})
    sent = requests[1:] if load["once"] else requests
    carried = played(port, sent, **load)
    return {
        "rate": round(carried.rate, 1),
        "p50_ms": round(carried.ms(0.5), 1),
        "p99_ms": round(carried.ms(0.99), 1),
        "count": carried.answers,
        "wrong": dict(carried.wrong),
    }


def _beside_nothing(found: dict[str, Any]) -> dict[str, Any]:
    nothing = found["nothing read"]["rate"]
    for one in found.values():
        one["of_nothing_read"] = round(one["rate"] / nothing, 3) if nothing else 0.0
    return found


def _pgbench(name: str, clients: int) -> float | None:
    """Transactions a second of pgbench's own kind with as many clients; None on SQLite."""
    program = pgbench()
    if program is None or not settings.DATABASES["default"]["ENGINE"].endswith("postgresql"):
        return None
    databases.create(name)
    url = urlsplit(database_url())._replace(path=f"/{name}").geturl()
    subprocess.run([program, "-i", "-q", "-s", "5", url], check=True, capture_output=True)
    run = [program, "-n", "-c", str(clients), "-j", "2", "-T", "5", url]
    said = subprocess.run(run, check=True, capture_output=True, text=True).stdout
    rate = re.search(r"^tps = ([\d.]+)", said, re.MULTILINE)
    return round(float(rate[1]), 1) if rate else None


def wrong(found: Mapping[str, Any]) -> list[str]:
    """The answers that were not the ones wanted, in lines."""
    return [
        f"{part}, {name}: {count} x {said}"
        for part, kinds in _parts(found)
        for name, one in kinds.items()
        for said, count in one.get("wrong", {}).items()
    ]


def _parts(found: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    yield from found["sizes"].items()
    for number, kinds in found["processes"].items():
        yield f"{SIZES[1]}, {number} process{'es' if number != '1' else ''} of 4 threads", kinds


def tables(found: Mapping[str, Any]) -> str:
    """What is printed: a table for each size, and for each number of processes."""
    lines = []
    for part, kinds in _parts(found):
        lines += ["", part]
        lines.append(f"  {'':14}{'a second':>10}{'p50 ms':>9}{'p99 ms':>9}{'of nothing read':>17}")
        for name, one in kinds.items():
            times = "".join(f"{one.get(key, ''):>9}" for key in ("p50_ms", "p99_ms"))
            lines.append(f"  {name:14}{one['rate']:>10}{times}{one['of_nothing_read']:>17}")
    beside = found["pgbench_tps"]
    lines += ["", f"pgbench, {found['clients']} clients: {beside or '-'} transactions a second"]
    lines.append(
        f"{found['services']}; {found['clients']} clients; calibration "
        f"{found['calibration_ms']} ms before, {found['calibration_ms_after']} after; "
        f"load {found['load_before']} before"
    )
    return "\n".join([*lines, *wrong(found)])
