"""The documented change of the note key, with the command killed in the middle of it."""

import os
import re
import shlex
import subprocess
import sys
from urllib.parse import urlsplit

import pytest
from django.db import connection

from bookings.models import Assessment
from tests import cast
from tests.architecture.deployment import OPERATIONS_PAGE
from tests.races.server import ROOT

pytestmark = [pytest.mark.heavy, pytest.mark.django_db(transaction=True)]

INSIDE = "docker compose exec web python "
NOTES = 600


def documented() -> list[str]:
    """The commands of the page, without the container around them."""
    section = OPERATIONS_PAGE.split("## A new note key\n")[1].split("\n## ")[0]
    return re.findall(rf"^ *{re.escape(INSIDE)}(.+)$", section, re.MULTILINE)


class Commands:
    """Runs the page's commands beside the test, on the test's own database."""

    def __init__(self, keys: list[str]) -> None:
        self.keys = keys
        stored = connection.settings_dict["NAME"]
        address = f"sqlite:///{stored}"
        if connection.vendor == "postgresql":
            url = urlsplit(os.environ["DATABASE_URL"])
            address = url._replace(path=f"/{stored}").geturl()
        self.environment = {**os.environ, "DATABASE_URL": address, "OUTBOX_THREAD": "false"}

    def start(self, command: str, *more: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, *shlex.split(command), *more],
            cwd=ROOT,
            env={**self.environment, "NOTE_KEYS": ",".join(self.keys)},
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )

    def run(self, command: str, *more: str) -> tuple[int, str]:
        done = self.start(command, *more)
        told, problems = done.communicate(timeout=120)
        return done.returncode, told + problems


def write_notes() -> None:
    ilse, noor = cast.make_instructor(), cast.make_student("Noor")
    notes = [cast.make_assessment(noor, ilse) for _ in range(NOTES)]
    for note in notes:
        note.private_remarks = f"Remark {note.pk}."
    Assessment.objects.bulk_update(notes, ["sealed_remarks"])


def opened() -> int:
    """How many remarks say what they said."""
    return sum(note.private_remarks == f"Remark {note.pk}." for note in Assessment.objects.all())


def test_a_rotation_that_is_killed_ends_whole_when_it_is_run_again(settings) -> None:
    """Killed by SIGKILL; between the two runs every text opens, some under each key."""
    make, rotate, check = documented()
    write_notes()
    commands = Commands(list(settings.NOTE_KEYS))
    _, new = commands.run(make)
    commands.keys.insert(0, new.strip())
    settings.NOTE_KEYS = commands.keys
    running = commands.start(rotate, "--at-once", "2")
    assert running.stdout is not None
    assert "sealed anew" in running.stdout.readline()
    running.kill()
    running.communicate(timeout=30)
    code, told = commands.run(check)
    left = int(re.findall(r"(\d+) texts are still sealed", told)[0])
    assert (code, 0 < left < NOTES, opened()) == (1, True, NOTES)
    code, told = commands.run(rotate)
    assert f"{left} sealed anew" in told
    assert (code, commands.run(check)[0]) == (0, 0)
    settings.NOTE_KEYS = commands.keys[:1]
    assert opened() == NOTES
