"""Imports go one way, and the contracts that say so are themselves complete."""

import ast
import subprocess
import sys
from configparser import ConfigParser
from pathlib import Path

import pytest

from tests.architecture.tree import ROOT, parsed, python_files


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    program = Path(sys.executable).with_name("lint-imports")
    if not program.exists():
        pytest.skip("requirements/dev.txt is not installed; make check runs the contracts")
    return subprocess.run(
        [program, "--no-cache"], cwd=folder, capture_output=True, text=True, check=False
    )


def test_the_import_contracts_hold() -> None:
    """Every contract of .importlinter is kept: one direction, a pure core, one door to each outside
    library.
    """
    done = lint(ROOT)
    assert done.returncode == 0, done.stdout[-4000:]


def test_a_module_without_a_place_breaks_the_build() -> None:
    """The layers are exhaustive, so a new module of bookings has to be given its place before
    anything passes.
    """
    contracts = ConfigParser()
    contracts.read(ROOT / ".importlinter")
    assert contracts["importlinter:contract:layers"]["exhaustive"] == "True"


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("bookings/domain/vocabulary.py", "import django", "the domain is pure"),
        ("bookings/domain/vocabulary.py", "import bookings.calendars", "imports go down only"),
        ("bookings/calendars/zones.py", "import config", "config > bookings > accounts"),
        ("bookings/clock.py", "import rest_framework", "one door to the REST framework"),
        ("bookings/clock.py", "import icalendar", "one door to icalendar"),
        ("bookings/clock.py", "import celery", "one door to Celery"),
        ("bookings/domain/fit.py", "import highspy", "one door to HiGHS"),
        ("bookings/domain/planning/model.py", "import numpy", "one door to HiGHS"),
        ("bookings/clock.py", "import bookings.feeds", "imports go down only"),
        ("bookings/stray.py", "", "imports go down only"),
        ("accounts/models/users.py", "import bookings", "config > bookings > accounts"),
    ],
)
def test_the_contracts_notice(tmp_path: Path, module: str, line: str, contract: str) -> None:
    """A forbidden import added to a copy of the tree is reported by the contract it breaks: the
    check itself is checked.
    """
    for name in ("accounts", "bookings", "config"):
        for source in (ROOT / name).rglob("*.py"):
            target = tmp_path / source.relative_to(ROOT)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(source.read_bytes())
    (tmp_path / ".importlinter").write_bytes((ROOT / ".importlinter").read_bytes())
    with (tmp_path / module).open("a") as copy:
        copy.write(f"\n{line}\n")
    done = lint(tmp_path)
    broken = [text for text in done.stdout.splitlines() if "BROKEN" in text]
    assert done.returncode == 1
    assert any(contract in text for text in broken), done.stdout[-4000:]


def imported(tree: ast.Module) -> set[str]:
    """The dotted names of the modules that a file imports, and of what it takes from them."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{name.name}" for name in node.names}
    return found


def imports_a_test_module(tree: ast.Module) -> bool:
    return any(
        name.startswith("tests.") and any(part.startswith("test_") for part in name.split("."))
        for name in imported(tree)
    )


def test_no_module_imports_a_test_module() -> None:
    """What two test modules share stands in a module of its own, so that each is read by itself."""
    found = [str(path) for path in python_files("tests") if imports_a_test_module(parsed(path))]
    assert found == []


@pytest.mark.parametrize(
    ("line", "is_refused"),
    [
        ("from tests.unit.test_load import week", True),
        ("from tests.unit import test_load", True),
        ("import tests.unit.test_load", True),
        ("from tests.unit.times import ZONES", False),
    ],
)
def test_an_imported_test_module_is_noticed(line: str, is_refused: bool) -> None:
    """The check above sees each way of writing such an import."""
    assert imports_a_test_module(ast.parse(line)) is is_refused
