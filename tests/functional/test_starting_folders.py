"""What a process writes is its owner's alone."""

import stat
import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.tree import ROOT
from tests.functional.production import GOOD, Start, start

__all__ = ["start"]

pytestmark = pytest.mark.one_database


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_var_is_its_owner_s_alone(start: Start, tmp_path: Path) -> None:
    """A new folder for what the product writes is made 0700, and one that others may enter is
    closed to them.
    """
    start()
    assert mode(tmp_path / "var") == 0o700
    (tmp_path / "var").chmod(0o755)
    start()
    assert mode(tmp_path / "var") == 0o700


def test_a_folder_that_everybody_shares_stays_shared(start: Start, tmp_path: Path) -> None:
    """A sticky folder, such as /tmp, belongs to all programs even where root owns it."""
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o1777)
    start(LEVARE_VAR=str(shared))
    assert mode(shared) == 0o1777


def test_what_production_writes_is_its_owner_s_alone(start: Start, tmp_path: Path) -> None:
    """The SQLite file and everything else in var are closed to others, also in a folder that is
    not.
    """
    start()  # the environment of the command below
    code = (
        "import django; django.setup()\n"
        "from pathlib import Path\n"
        "from django.conf import settings\n"
        "from django.db import connection\n"
        "connection.cursor().execute('CREATE TABLE x (y)')\n"
        "settings.VAR_DIR.joinpath('anything').write_text('x')\n"
    )
    subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={
            **GOOD,
            "DATABASE_URL": f"sqlite:///{tmp_path}/var/school.sqlite3",
            "LEVARE_VAR": str(tmp_path / "var"),
            "DJANGO_SETTINGS_MODULE": "config.settings",
        },
        check=True,
    )
    written = {path.name: mode(path) for path in (tmp_path / "var").iterdir()}
    assert {"school.sqlite3", "anything"} <= set(written)
    assert {name: m for name, m in written.items() if m & 0o077} == {}
