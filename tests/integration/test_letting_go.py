"""The daily work of letting go: in small steps, once a day, and taken up where it was stopped."""

import io
from datetime import timedelta

import pytest
from django.core.management import call_command

from bookings import clock, letting_go
from bookings.models import (
    KeptAnswer,
    RetentionRun,
)
from bookings.operations import letting_go as operation
from bookings.queries.places_audit import findings
from bookings.queries.retention import KINDS
from bookings.tasks import let_go
from tests.cast import NOW
from tests.school.privacy import dump
from tests.school.retention import OldSchool
from tests.threads import together

BY_CODE = {kind.code: kind for kind in KINDS}


@pytest.fixture(autouse=True)
def _stopped(monkeypatch) -> None:
    """Both clocks stand at NOW."""
    for name in ("now", "machine"):
        monkeypatch.setattr(clock, name, lambda: NOW)


def run(*arguments: str) -> list[str]:
    told = io.StringIO()
    call_command("retention", *arguments, stdout=told)
    return told.getvalue().splitlines()


@pytest.mark.django_db
def test_it_is_done_once_a_day() -> None:
    """What falls due after today’s work goes tomorrow."""
    school = OldSchool()
    school.row("kept-answers", NOW - timedelta(days=2))
    assert let_go()
    assert RetentionRun.objects.get().gone == {"kept-answers": 1}
    school.row("kept-answers", NOW - timedelta(days=3))
    assert let_go()
    assert KeptAnswer.objects.count() == 1
    RetentionRun.objects.update(day=NOW.date() - timedelta(days=1))
    let_go()
    assert not KeptAnswer.objects.exists()


@pytest.mark.django_db
def test_a_long_day_is_done_in_parts(monkeypatch) -> None:
    """No look holds the worker up, and the counts of the day go on."""
    monkeypatch.setattr(operation, "AT_ONCE", 2)
    monkeypatch.setattr(letting_go, "MOST_BATCHES", 2)
    school = OldSchool()
    for days in range(2, 9):
        school.row("kept-answers", NOW - timedelta(days=days))
    assert [let_go() for _ in range(3)] == [False, False, True]
    assert RetentionRun.objects.get().gone == {"kept-answers": 7}


@pytest.mark.django_db
def test_a_day_that_was_killed_in_the_middle_is_taken_up(monkeypatch) -> None:
    """What was committed is gone and counted; the rest goes with the next look."""
    monkeypatch.setattr(operation, "AT_ONCE", 1)
    school = OldSchool()
    for days in (2, 3, 4):
        school.row("kept-answers", NOW - timedelta(days=days))
    whole, batches = letting_go.let_go, []

    def killed(**what):
        if what["kind"].code == "kept-answers":
            batches.append(what)
            if len(batches) == 2:
                raise KeyboardInterrupt
        return whole(**what)

    monkeypatch.setattr(letting_go, "let_go", killed)
    with pytest.raises(KeyboardInterrupt):
        let_go()
    assert KeptAnswer.objects.count() == 2
    assert let_go()
    assert RetentionRun.objects.get().gone == {"kept-answers": 3}


@pytest.mark.django_db
def test_a_kind_that_fails_keeps_no_other(monkeypatch) -> None:
    """It is logged, and tried again tomorrow."""
    school = OldSchool()
    school.row("health", NOW - timedelta(days=900))
    school.row("kept-answers", NOW - timedelta(days=2))
    whole = letting_go.let_go

    def failing(**what):
        if what["kind"].code == "health":
            raise RuntimeError
        return whole(**what)

    monkeypatch.setattr(letting_go, "let_go", failing)
    let_go()
    assert "health" not in RetentionRun.objects.get().gone
    assert not KeptAnswer.objects.exists()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_workers_at_once_count_each_row_once(monkeypatch) -> None:
    """They take turns at the row of the day."""
    monkeypatch.setattr(operation, "AT_ONCE", 3)
    school = OldSchool()
    for days in range(2, 32):
        school.row("kept-answers", NOW - timedelta(days=days))
    assert together(let_go, let_go) == []
    assert RetentionRun.objects.get().gone == {"kept-answers": 30}


@pytest.mark.django_db
def test_a_dry_run_says_what_would_go_and_writes_nothing() -> None:
    """With --write it all goes, and the audit of the rows finds nothing."""
    school = OldSchool()
    for code in BY_CODE:
        school.row(code, NOW - timedelta(days=1500))
    before = dump()
    told = run()
    assert dump() == before
    assert len(told) == len(KINDS) + 1
    assert all(": 0 due" not in line for line in told)
    assert "kept 90 days after the lesson: 2 due, the oldest of 2023-01-21" in told[0]
    assert told[-1].endswith("Nothing is written. To do it: --write")
    run("--write")
    assert run()[-1].startswith("0 rows are due")
    assert list(findings()) == []
