"""Only interfaces read the clock; everything below them takes `now`, so that any instant can be
tried.
"""

import ast
from pathlib import Path

import pytest

from tests.architecture.tree import parsed, python_files

# (what it is called on, the call): datetime.now, timezone.now (Django's), date.today, time.time and
# their kin.
READS = {
    ("datetime", "now"),
    ("datetime", "utcnow"),
    ("datetime", "today"),
    ("date", "today"),
    ("timezone", "now"),
    ("timezone", "localtime"),
    ("timezone", "localdate"),
    ("time", "time"),
    ("time", "time_ns"),
    ("time", "localtime"),
    ("time", "gmtime"),
}
# The one clock, and the interfaces that ask it. A monotonic clock measures a wait and tells no
# time, so it is free.
MAY_READ = ("bookings/clock.py",)
MAY_ASK = (
    "accounts/admin.py",
    "bookings/admin",
    "bookings/api/",
    "bookings/apps.py",
    "bookings/delivering.py",
    "bookings/demo/",
    "bookings/feeds.py",
    "bookings/health.py",
    "bookings/management/",
    "bookings/metrics.py",
    "bookings/pages/",
    "bookings/solving.py",
    "bookings/tasks.py",
    "config/",
)


def clock_reads(tree: ast.Module) -> list[str]:
    """Every place that reads a clock of its own: a call, or a function handed over to be called
    later (default=timezone.now).
    """
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            owner = ast.unparse(node.value).rpartition(".")[2]
            if (owner, node.attr) in READS:
                found.append(f"{node.lineno}: {owner}.{node.attr}")
        elif isinstance(node, ast.keyword) and node.arg in {"auto_now", "auto_now_add"}:
            found.append(f"{node.value.lineno}: {node.arg}")
        elif isinstance(node, ast.ImportFrom) and node.module in {"time", "django.utils.timezone"}:
            names = {alias.name for alias in node.names} & {
                "time",
                "time_ns",
                "now",
                "localtime",
                "localdate",
            }
            found += [f"{node.lineno}: {node.module}.{name}" for name in sorted(names)]
        elif isinstance(node, ast.Name) and node.id in {"Now", "CurrentTimestamp"}:
            found.append(f"{node.lineno}: {node.id}")
    return found


def asks_the_clock(tree: ast.Module) -> bool:
    return any(
        (
            isinstance(node, ast.ImportFrom)
            and node.module == "bookings"
            and "clock" in {alias.name for alias in node.names}
        )
        or (isinstance(node, ast.ImportFrom) and node.module == "bookings.clock")
        or (
            isinstance(node, ast.Import)
            and "bookings.clock" in {alias.name for alias in node.names}
        )
        for node in ast.walk(tree)
    )


def under(path: Path, places: tuple[str, ...]) -> bool:
    return str(path).startswith(places)


def test_one_module_reads_the_clock() -> None:
    """Nothing but bookings/clock.py reads the machine's clock, not even as a default of a model's
    field.
    """
    sources = [
        path for path in python_files("accounts", "bookings", "config") if not under(path, MAY_READ)
    ]
    reads = [f"{path}:{read}" for path in sources for read in clock_reads(parsed(path))]
    assert reads == []


def test_only_interfaces_ask_the_clock() -> None:
    """bookings.clock is imported by interfaces only; rules, reads and writes are given `now`."""
    sources = python_files("accounts", "bookings", "config")
    asking = [
        str(path) for path in sources if asks_the_clock(parsed(path)) and not under(path, MAY_ASK)
    ]
    assert asking == []


@pytest.mark.parametrize(
    "source",
    [
        "from datetime import datetime\ndatetime.now()",
        "import datetime\ndatetime.datetime.now(datetime.UTC)",
        "from django.utils import timezone\nfield(default=timezone.now)",
        "from django.utils.timezone import now\nnow()",
        "field(auto_now=True)",
        "import time\ntime.time()",
        "from datetime import date\ndate.today()",
        "from django.db.models.functions import Now\nNow()",
    ],
)
def test_a_reading_of_the_clock_is_noticed(source: str) -> None:
    """Each usual way to read the time is found: the check itself is checked."""
    assert len(clock_reads(ast.parse(source))) == 1
