"""A back-up is worth what its restore is: the drill of docs/operations.md, on the database of this pass."""

import os
import shutil
from contextlib import nullcontext
from pathlib import Path

import pytest

from tests import services
from tests.races import restore_drill


@pytest.mark.heavy
def test_a_school_is_restored_from_a_copy_made_under_writes(tmp_path: Path) -> None:
    """Lessons are booked all the while. The copy holds every lesson acknowledged before it, its rows agree with each other and
    with the moment of the copy, its guards stand, and a feed has the same bytes."""
    if services.on_postgres():
        assert shutil.which("pg_dump") and shutil.which("pg_restore"), (
            "install PostgreSQL's client programs"
        )
        told = restore_drill.on_postgres(os.environ["DATABASE_URL"], tmp_path)
    else:
        told = restore_drill.on_sqlite(tmp_path)
    print(told)


def test_the_drill_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy that lost a lesson, a guard, a message's row or a feed's bytes is not passed."""
    sound = {
        "booked": [1, 2, 3, 4, 5, 6],
        "unapplied": [],
        "missing": [],
        "findings": [],
        "feed": "abc",
    }
    faults = {"booked": [2], "unapplied": ["x"], "missing": ["x"], "findings": ["x"], "feed": "abd"}
    for looked in (sound, *({**sound, name: broken} for name, broken in faults.items())):
        told = {"load": {"secret": "s", "now": "n", "feed": "abc"}, "look": looked}
        monkeypatch.setattr(
            restore_drill, "ask", lambda url, folder, part, *_, told=told: told[part]
        )
        monkeypatch.setattr(
            restore_drill,
            "lessons_being_booked",
            lambda url, folder: restore_drill.closing(_Booked()),
        )
        with nullcontext() if looked is sound else pytest.raises(restore_drill.NotSo):
            restore_drill.drill("a", "b", tmp_path, lambda: None, lambda: {"t": 1})


class _Booked:
    """One lesson more each time it is asked, from five on."""

    def __init__(self) -> None:
        self.count = 4

    def __call__(self) -> list[int]:
        self.count += 1
        return list(range(1, self.count + 1))

    def close(self) -> None:
        """Nothing is open."""
