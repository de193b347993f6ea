"""`manage.py retime`, the real thing: one process books with tzdata 2025b, another brings it to the
pinned version.
"""

import json
import os
import subprocess
import sys
from collections import Counter
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from bookings import clock, health
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import AuditRow, Booking, Feed, Meeting, OutboxMessage
from tests import wheels
from tests.cast import at
from tests.functional.old_rules import NOW
from tests.functional.retimed import (
    PUBLISHED,
    a_student_whose_own_rules_changed_is_told,
    a_weekly_place_is_told_in_one_message,
    each_reader_of_a_moved_one_has_one_new_entry,
    each_stands_at_its_wall_time,
    lessons_that_follow_each_other_are_not_flagged,
    new_clashes_are_flagged,
    the_words_say_whose_clock_changed,
)
from tests.races.server import ROOT, database_url

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def booked(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What the process with the old rules booked; the clock of this one stands where its stood."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(wheels.tzdata("2025.2")),
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "DATABASE_URL": database_url(),
    }
    command = [sys.executable, "-m", "tests.functional.old_rules"]
    done = subprocess.run(
        command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    assert (told["version"], TZDATA_VERSION) == ("2025b", "2026f")
    monkeypatch.setattr(clock, "now", lambda: at(NOW))
    return told


def retime(*flags: str) -> dict[str, Any]:
    out = StringIO()
    call_command("retime", *flags, "--json", stdout=out)
    answer: dict[str, Any] = json.loads(out.getvalue())
    return answer


def rows() -> dict[str, list[Any]]:
    """Every row that the command may write."""
    models = (Meeting, Booking, OutboxMessage, AuditRow, Feed)
    return {model.__name__: list(model.objects.order_by("pk").values()) for model in models}


def test_retime_keeps_every_wall_time_and_tells_each_moved_meeting_once(
    booked: dict[str, Any],
) -> None:
    """13 zones, booked under 2025b: under 2026f each stands at its wall time, and who is in a moved
    one has had one new entry.

    One run, for booking in another process takes long; what it did is looked at from every side
    below.
    """
    for time_zone, (before, _) in PUBLISHED.items():
        assert Meeting.objects.get(pk=booked["lessons"][time_zone]).starts_at == at(before), (
            time_zone
        )
    sent_before = Counter(OutboxMessage.objects.values_list("meeting_id", "recipient_id", "kind"))
    told = retime("--write")
    moved = {line["meeting"] for line in told["meetings"] if line["from"] != line["to"]}
    each_stands_at_its_wall_time(booked, moved)
    each_reader_of_a_moved_one_has_one_new_entry(booked, moved, sent_before)
    the_words_say_whose_clock_changed(booked)
    lessons_that_follow_each_other_are_not_flagged(booked)
    new_clashes_are_flagged(booked, told)
    a_weekly_place_is_told_in_one_message(booked)
    a_student_whose_own_rules_changed_is_told(booked, told)


def test_retime_is_a_dry_run_unless_told_to_write_and_a_second_run_moves_nothing(
    booked: dict[str, Any],
) -> None:
    """The dry run writes nothing and foretells what the write then does; health and the check tell
    until nothing is left to do.
    """
    health.forget()
    answer = Client().get("/health/ready/")
    assert (answer.status_code, answer.json()["retime_due"]) == (200, True)
    with pytest.raises(CommandError, match=r"bookings.W001[\s\S]*manage.py retime"):
        call_command("check", databases=["default"], fail_level="WARNING")
    before = rows()
    foretold = retime()
    assert rows() == before
    done = retime("--write")
    assert {**foretold, "written": True} == done
    after = rows()
    again = retime("--write")
    assert (again["meetings"], again["unmoved"]) == ([], 0)
    assert rows() == after
    health.forget()
    assert Client().get("/health/ready/").json()["retime_due"] is False
    call_command("check", databases=["default"], fail_level="WARNING")
