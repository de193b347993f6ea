"""The audit of places: every fault that a guard or a lock should have stopped is found, and a sound
school has none.
"""

import io
import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from bookings.demo import school
from bookings.domain.vocabulary import MeetingStatus, PlaceKind, Standing
from bookings.models import Meeting, guards
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW
from tests.integration import places_faults, statement_faults
from tests.integration.places_faults import NOON, group

pytestmark = pytest.mark.django_db


@pytest.fixture
def without_guards() -> None:
    """The faults are planted past the guards: those of this transaction's copy of the tables are
    taken away.
    """
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            for guard in guards.guards_of(connection):
                cursor.execute(guard.drop)
            cursor.execute("PRAGMA ignore_check_constraints = ON")
            cursor.execute("DROP INDEX booking_once")
            return
        for guard in guards.guards_of(connection):
            if guard.kind == "CONSTRAINT" or guard.table.startswith("bookings_statement"):
                cursor.execute(guard.drop)
        cursor.execute(
            "ALTER TABLE bookings_meeting DROP CONSTRAINT meeting_places, DROP CONSTRAINT "
            "meeting_listener_places"
        )
        cursor.execute(
            "ALTER TABLE bookings_booking DROP CONSTRAINT offer_says_answer_by, DROP CONSTRAINT "
            "booking_end_says_why"
        )
        cursor.execute("DROP INDEX booking_once")


@pytest.fixture(autouse=True)
def checks_hold_again() -> Any:
    """The pragma belongs to the connection and would outlive the test."""
    yield
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA ignore_check_constraints = OFF")


def found() -> set[tuple[str, str, int | None]]:
    """What is found, without the guards that the test itself took away."""
    return {(one.rule, one.thing, one.id) for one in findings() if one.rule != "guard-missing"}


@pytest.mark.parametrize("plant", [*places_faults.FAULTS, *statement_faults.FAULTS])
def test_each_fault_is_found(
    without_guards: None, plant: Callable[[], tuple[str, str, int]]
) -> None:
    """One fault is planted past the guards, and the audit finds that one and nothing else."""
    planted = plant()
    assert found() == {planted}


def test_what_lies_on_the_one_before_the_last_is_found(without_guards: None) -> None:
    """A long meeting, a short one in it that is soon over, and a third that begins while the long
    one still runs.
    """
    hours = timedelta(hours=1)
    long = group(ends_at=NOON + 4 * hours, held_until=NOON + 4 * hours)
    short, third = (group(NOON + since * hours, instructor=long.instructor) for since in (1, 3))
    group(NOON + 4 * hours, instructor=long.instructor)
    overlaps = {
        (one.id, one.sentence.partition(" of ")[0])
        for one in findings()
        if one.rule == "meeting_instructor_free"
    }
    assert overlaps == {(later.pk, f"begins before meeting {long.pk}") for later in (short, third)}


def test_what_is_allowed_is_no_finding(without_guards: None) -> None:
    """Times that touch, flagged and cancelled meetings, an offer beside a lesson, and a player who
    is listening too.
    """
    first = group(listener_places=3)
    ilse, noor = first.instructor, cast.make_student()
    group(first.held_until, instructor=ilse)
    group(NOON, instructor=ilse, is_flagged=True)
    group(NOON, instructor=ilse, status=MeetingStatus.CANCELLED)
    cast.make_booking(first, noor)
    cast.make_booking(first, noor, place_kind=PlaceKind.LISTENER)
    cast.make_booking(
        group(NOON), noor, standing=Standing.OFFERED, answer_by=NOON - timedelta(hours=5)
    )
    cast.make_booking(group(first.ends_at), noor)
    assert found() == set()


def test_a_missing_guard_is_found(without_guards: None) -> None:
    """Triggers, exclusions, checks and unique indexes that are gone are named, whatever the rows
    look like.
    """
    missing = " ".join(one.line() for one in findings() if one.rule == "guard-missing")
    name = (
        "meeting_instructor_free_update"
        if connection.vendor == "sqlite"
        else "meeting_instructor_free"
    )
    assert f"the guard {name} is missing" in missing
    assert "bookings_booking: the guard booking_once is missing." in missing


def test_a_sound_school_has_none_and_the_queries_do_not_grow(
    django_assert_num_queries: Any,
) -> None:
    """The demo school has no finding, and reading it takes as many queries as reading an empty
    database.
    """
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as empty:
        assert list(findings()) == []
    school.load(now=NOW)
    assert Meeting.objects.exists()
    with CaptureQueriesContext(connection) as full:
        assert [one.line() for one in findings()] == []
    assert len(full) == len(empty)
    assert not [
        query["sql"] for query in full if query["sql"].split()[0] in {"INSERT", "UPDATE", "DELETE"}
    ]


def run(*arguments: str) -> tuple[int, str]:
    out = io.StringIO()
    try:
        call_command("audit_places", *arguments, stdout=out)
    except CommandError as error:
        return error.returncode, out.getvalue()
    return 0, out.getvalue()


def test_the_command_says_it_in_lines_and_in_json() -> None:
    """Exit 0 and a sentence where all is well; else a line a finding, or JSON, and exit 1."""
    assert run() == (0, "Nothing found: the rows agree.\n")
    assert run("--json") == (0, '{"findings": []}\n')
    meeting = group(taken=1)
    code, text = run()
    assert (code, text) == (
        1,
        f"meeting {meeting.pk}: counts 1 players and 0 listeners, and has 0 and 0.\n",
    )
    code, text = run("--json")
    assert (code, json.loads(text)["findings"][0]["rule"]) == (1, "counters")
