"""Positive controls: two faults made on purpose, which the history checker must report, or it
proves nothing.

C1: the guard of an instructor's time is dropped and the rule is blind (see `blind`). C2, on
PostgreSQL: the isolation level is the only guard (see `isolation_only`). Neither is a switch of the
product: the servers are modules of the tests, and the constraint is dropped in a database that was
made for the races.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from django.db import connection

from accounts.models import Instructor
from bookings.domain.vocabulary import MeetingStatus
from bookings.models import Meeting, guards
from tests.races.plans import Plan, Race
from tests.races.scenarios_slots import one_slot
from tests.races.school import School
from tests.races.server import serve

if TYPE_CHECKING:
    from tests.races.match import Match

GUARD = "meeting_instructor_free"
INDEX = "race_meeting_period"
ATTEMPTS = 5
"""Rounds after which a control that shows nothing counts as not caught; both are caught in the
first as a rule.
"""


def deadlocks() -> int:
    """How many deadlocks the server has broken in this database; 0 on SQLite: it has one writer."""
    if connection.vendor != "postgresql":
        return 0
    connection.close()
    time.sleep(1.2)  # a backend hands in its counts within a second of becoming idle
    with connection.cursor() as cursor:
        cursor.execute("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
        return int(cursor.fetchone()[0])


@contextmanager
def without_guard() -> Iterator[None]:
    """No guard of an instructor's time; put back at the end, when what it would have refused is
    marked as known clashes.
    """
    with connection.cursor() as cursor:
        for guard in guards.guards_of(connection):
            if guard.name.startswith(GUARD):
                cursor.execute(guard.drop)
        if connection.vendor == "postgresql":
            # The columns of the guard's own index; written as an expression, the instructor leads
            # to this index and no other.
            cursor.execute(
                f"CREATE INDEX {INDEX} ON bookings_meeting USING gist ((instructor_id + 0), "
                "tstzrange(starts_at, held_until))"
            )
            cursor.execute("ANALYZE bookings_meeting")
    first = Instructor.objects.latest("pk").pk
    try:
        yield
    finally:
        # Only the controls' own instructors have clashes.
        Meeting.objects.filter(instructor__gt=first).exclude(status=MeetingStatus.CANCELLED).update(
            is_flagged=True
        )
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(f"DROP INDEX {INDEX}")
        guards.install(connection)


def play(match: Match, *, only: Sequence[str] = ()) -> dict[str, bool]:
    """Whether each control was caught, or those that are named."""
    servers = {"C1": ("no guard and a blind rule", "tests.races.blind", {})}
    if connection.vendor == "postgresql":
        servers["C2"] = (
            "isolation level as the only guard",
            "tests.races.isolation_only",
            {"workers": 1, "threads": 2},
        )
    caught = {}
    for name, (title, application, size) in servers.items():
        if not only or name in only:
            race = Race(name, f"control: {title}", _quiet)
            with without_guard(), serve(application=application, log=match.log, **size) as port:
                caught[name] = any(_shows(match, race, port, turn) for turn in range(ATTEMPTS))
    return caught


def _shows(match: Match, race: Race, port: int, turn: int) -> bool:
    from tests.races.match import tell

    run = match.play(race, port, turn)
    tell(run)
    return any(violation["kind"] == "overlap" for violation in run["violations"])


def _quiet(school: School, _: object) -> Plan:
    """The first race, without its own judge: the history alone has to see it."""
    return Plan(shots=one_slot(school, 50).shots, judge=lambda hits, port: [])
