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
from django.db.models import F

from bookings.demo import school
from bookings.domain.vocabulary import Ended, Kind, MeetingStatus, PlaceKind, Standing
from bookings.models import Booking, Feed, Meeting, WaitingPlace, guards
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db
NOON = at("2027-03-10T12:00Z")


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
            if guard.kind == "CONSTRAINT":
                cursor.execute(guard.drop)
        cursor.execute(
            "ALTER TABLE bookings_meeting DROP CONSTRAINT meeting_places, DROP CONSTRAINT meeting_listener_places"
        )
        cursor.execute(
            "ALTER TABLE bookings_booking DROP CONSTRAINT offer_says_answer_by, DROP CONSTRAINT booking_end_says_why"
        )
        cursor.execute("DROP INDEX booking_once")


@pytest.fixture(autouse=True)
def checks_hold_again() -> Any:
    """The pragma belongs to the connection and would outlive the test."""
    yield
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA ignore_check_constraints = OFF")


def group(starts_at: Any = NOON, **fields: Any) -> Meeting:
    cast.make_policy() if not cast.StudioPolicy.objects.exists() else None
    number = Meeting.objects.count()
    offering = cast.make_offering(f"Studio class {number}", Kind.GROUP_MEETING, 50)
    ilse = fields.pop("instructor", None) or cast.make_instructor(f"Teacher {number}")
    return cast.make_meeting(offering, ilse, starts_at, **{"places": 4, **fields})


def found() -> set[tuple[str, str, int | None]]:
    """What is found, without the guards that the test itself took away."""
    return {(one.rule, one.thing, one.id) for one in findings() if one.rule != "guard-missing"}


def counter_ahead() -> tuple[str, str, int]:
    meeting = group(taken=1)
    return "counters", "meeting", meeting.pk


def counter_behind() -> tuple[str, str, int]:
    booking = cast.make_booking(
        group(listener_places=2), cast.make_student(), place_kind=PlaceKind.LISTENER
    )
    Meeting.objects.update(listeners_taken=0)
    return "counters", "meeting", booking.meeting_id


def over_booked() -> tuple[str, str, int]:
    meeting = group(places=1)
    for name in ("Noor Ashgrove", "Marlo Vance"):
        cast.make_booking(meeting, cast.make_student(name))
    return "meeting_places", "meeting", meeting.pk


def instructor_twice() -> tuple[str, str, int]:
    first = group()
    later = group(
        first.held_until - timedelta(minutes=1), instructor=first.instructor
    )  # inside the changeover
    return "meeting_instructor_free", "meeting", later.pk


def student_twice() -> tuple[str, str, int]:
    noor = cast.make_student()
    cast.make_booking(group(), noor)
    return (
        "booking_student_free",
        "booking",
        cast.make_booking(group(NOON + timedelta(minutes=45)), noor).pk,
    )


def booked_twice() -> tuple[str, str, int]:
    meeting, noor = group(), cast.make_student()
    first = cast.make_booking(meeting, noor)
    cast.make_booking(meeting, noor)
    return "booking_once", "booking", first.pk


def lives_in_a_cancelled_meeting() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    Meeting.objects.update(status=MeetingStatus.CANCELLED)
    return "cancelled", "booking", booking.pk


def waits_for_a_cancelled_meeting() -> tuple[str, str, int]:
    waiting = WaitingPlace.objects.create(
        meeting=group(status=MeetingStatus.CANCELLED), student=cast.make_student(), joined_at=NOW
    )
    return "cancelled", "waiting place", waiting.pk


def another_time_than_its_meeting() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    Booking.objects.update(ends_at=F("ends_at") + timedelta(minutes=5))
    return "period", "booking", booking.pk


def offer_without_end() -> tuple[str, str, int]:
    return (
        "offer_says_answer_by",
        "booking",
        cast.make_booking(group(), cast.make_student(), standing=Standing.OFFERED).pk,
    )


def offer_past_the_start() -> tuple[str, str, int]:
    late = NOON + timedelta(minutes=1)
    return (
        "offer",
        "booking",
        cast.make_booking(
            group(), cast.make_student(), standing=Standing.OFFERED, answer_by=late
        ).pk,
    )


def offer_to_a_place_that_ended() -> tuple[str, str, int]:
    meeting, noor = group(), cast.make_student()
    waiting = WaitingPlace.objects.create(
        meeting=meeting, student=noor, joined_at=NOW, ended_at=NOW, ended_why=Ended.LEFT
    )
    offer = cast.make_booking(
        meeting,
        noor,
        standing=Standing.OFFERED,
        answer_by=NOON - timedelta(hours=5),
        waiting_place=waiting,
    )
    return "offer", "booking", offer.pk


def waits_for_what_she_holds() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    waiting = WaitingPlace.objects.create(
        meeting=booking.meeting, student=booking.student, joined_at=NOW
    )
    return "queue", "waiting place", waiting.pk


def joined_after_the_start() -> tuple[str, str, int]:
    late = NOON + timedelta(hours=1)
    return (
        "queue",
        "waiting place",
        WaitingPlace.objects.create(
            meeting=group(), student=cast.make_student(), joined_at=late
        ).pk,
    )


def ended_without_a_reason() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    Booking.objects.update(standing=Standing.ENDED)
    Meeting.objects.update(taken=0)
    return "booking_end_says_why", "booking", booking.pk


def lesson_without_a_student() -> tuple[str, str, int]:
    return (
        "empty",
        "meeting",
        cast.make_meeting(cast.make_offering(), cast.make_instructor(), NOON).pk,
    )


def lasts_for_days() -> tuple[str, str, int]:
    return "too-long", "meeting", group(held_until=NOON + timedelta(days=3)).pk


def feed_that_nothing_opens() -> tuple[str, str, int]:
    feed = Feed.objects.create(
        owner=cast.make_user(), label="Phone", secret_digest="short", revised_at=NOW, opened_at=NOW
    )
    return "feed", "feed", feed.pk


FAULTS = [
    counter_ahead,
    counter_behind,
    over_booked,
    instructor_twice,
    student_twice,
    booked_twice,
    lives_in_a_cancelled_meeting,
    waits_for_a_cancelled_meeting,
    another_time_than_its_meeting,
    offer_without_end,
    offer_past_the_start,
    offer_to_a_place_that_ended,
    waits_for_what_she_holds,
    joined_after_the_start,
    ended_without_a_reason,
    lesson_without_a_student,
    lasts_for_days,
    feed_that_nothing_opens,
]


@pytest.mark.parametrize("plant", FAULTS)
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
    """Exit 0 and a sentence where all is well; else a line for each finding, or JSON, and exit 1."""
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
