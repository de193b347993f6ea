"""Nothing depends on the weekday, the date or the hour of the run: R11, the demo's story and the
harness' own tests at moments that differ in all of them. CI plays R11 at every moment and tells the
story at the edges; a quick run plays R11 at the moment that once failed; a long one does it all.
"""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core.cache import cache

from bookings import clock
from tests import services
from tests.moments import MOMENTS, played, surroundings, told
from tests.races.drivers import Drivers, driving
from tests.races.match import Match, all_races
from tests.races.school import School
from tests.run import ROOT

SEED = 7
STUDENTS = 8
STORED = 80
STORY = """
from datetime import UTC, datetime
from pathlib import Path
from bookings.demo.server import serving
from bookings.demo.story import tell
print("The machine says", datetime.now(UTC).isoformat())
with serving(Path("{folder}")) as house:
    tell(house.base, house.mailbox, say=print)
print("All of it is so.")
"""
STARTING = timedelta(minutes=5)
"""A slow machine may take so long until the story begins; some moments are near a month's end."""
HARNESS = [
    *sorted(str(path) for path in (ROOT / "tests" / "unit").glob("test_race_*.py")),
    "tests/unit/test_fault_ledgers.py",
    "tests/integration/test_race_state.py",
]


@pytest.fixture(autouse=True)
def only_once() -> None:
    """The database makes no difference here, so it is played on SQLite alone."""
    if services.on_postgres():
        pytest.skip(services.OTHER_PASS)


@pytest.fixture(scope="module")
def drivers() -> Iterator[Drivers]:
    with driving() as standing:
        yield standing


def test_the_moments_are_those_that_differ() -> None:
    """Seven weekdays, a change of clocks each way within the minute, and a year that ends within
    it.
    """
    soon = timedelta(minutes=1)
    assert {moment.weekday() for moment in MOMENTS.values()} == set(range(7))
    assert any((moment + soon).year != moment.year for moment in MOMENTS.values())
    changes = set()
    for moment in MOMENTS.values():
        for name in ("Europe/Dublin", "America/New_York"):
            local = moment.astimezone(ZoneInfo(name))
            later = (moment + soon).astimezone(ZoneInfo(name))
            changes.add((later.utcoffset() or timedelta()) - (local.utcoffset() or timedelta()))
    assert changes == {timedelta(hours=-1), timedelta(), timedelta(hours=1)}


@pytest.fixture
def empty_cache() -> Iterator[None]:
    """The server is a thread of this process: what its throttles counted in another year stays out
    of other tests.
    """
    yield
    cache.clear()


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("empty_cache")
@pytest.mark.parametrize("name", played())
def test_ten_weeks_are_held_whole_on_any_day(
    name: str, drivers: Drivers, live_server: Any, tmp_path: Path
) -> None:
    """R11 in its small form: the term lies in the stretch that the checker reads, whichever day the
    race is run.
    """
    race = next(race for race in all_races() if race.name == "R11")
    with time_machine.travel(MOMENTS[name], tick=True):
        assert abs(clock.now() - MOMENTS[name]) < timedelta(minutes=1)
        match = Match(School(stored=STORED), drivers, tmp_path / "server.log", SEED)
        run = match.play(race, live_server.thread.port, 0, variant=STUDENTS)
    assert run["requests"] == 2 * STUDENTS
    assert int(run["statuses"].get("201", 0)) > 0
    assert run["violations"] == []


@pytest.fixture(scope="module")
def empty_tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the tables and nothing in them: making them is most of a story's time, and
    no part of it.
    """
    made = tmp_path_factory.mktemp("tables") / "levare.sqlite3"
    command = [sys.executable, "manage.py", "migrate", "-v", "0"]
    environment = {"PATH": os.environ["PATH"], "DATABASE_URL": f"sqlite:///{made}"}
    subprocess.run(command, cwd=ROOT, env=environment, check=True)
    return made


@pytest.mark.heavy
@pytest.mark.parametrize("name", told())
def test_the_story_is_told_on_any_day(name: str, empty_tables: Path, tmp_path: Path) -> None:
    """The school loads and the story succeeds whatever the machine's clock says: the demo's own
    starts at DEMO_START.
    """
    shutil.copy(empty_tables, tmp_path)
    told = subprocess.run(
        [sys.executable, "manage.py", "shell", "-v", "0", "-c", STORY.format(folder=tmp_path)],
        cwd=ROOT,
        env={"PATH": os.environ["PATH"], **surroundings(name)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, (told.stdout + told.stderr)[-3000:]
    (machine,) = re.findall(r"The machine says (\S+)", told.stdout)
    since = datetime.fromisoformat(machine) - MOMENTS[name]
    assert timedelta() <= since < STARTING, "the story was told at another moment"
    assert "by the demo clock on Monday 1 March 2027" in told.stdout
    assert told.stdout.endswith("All of it is so.\n")


@pytest.mark.heavy
def test_the_harness_own_tests_pass_on_any_day() -> None:
    """What reads and judges histories is tested at every moment."""
    command = ["-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "tests.moments.everywhen"]
    ran = subprocess.run(
        [sys.executable, *command, *HARNESS],
        cwd=ROOT,
        env={"PATH": os.environ["PATH"], "PROFILE": "mutants"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout[-3000:]
    passed = re.search(r"(\d+) passed", ran.stdout)
    assert passed and int(passed[1]) % len(MOMENTS) == 0
