"""What the write door promises where the database gives up a transaction: retries, and what a busy
database says.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import OperationalError, connection

from bookings import door
from bookings.models import Booking, KeptAnswer
from tests.functional.api.client import Api
from tests.functional.api.school import School

pytestmark = pytest.mark.sql


class LostRace(Exception):
    """What the driver raises where PostgreSQL gave up a transaction for another's sake."""

    def __init__(self, sqlstate: str) -> None:
        super().__init__(sqlstate)
        self.sqlstate = sqlstate


@contextmanager
def losing(times: int, sqlstate: str) -> Iterator[list[str]]:
    """The first `times` bookings inserted fail as a lost race; the list counts the attempts."""
    tried: list[str] = []

    def lose(execute: Any, sql: str, *rest: Any) -> Any:
        if sql.startswith('INSERT INTO "bookings_booking"'):
            tried.append(sql)
            if len(tried) <= times:
                raise OperationalError("could not serialize access") from LostRace(sqlstate)
        return execute(sql, *rest)

    with connection.execute_wrapper(lose):
        yield tried


@pytest.mark.parametrize("sqlstate", ["40001", "40P01"])
def test_a_lost_race_is_run_again(school: School, sqlstate: str) -> None:
    """serialization_failure and deadlock_detected (PostgreSQL's appendix A) are retried three
    times; the fourth try may win.
    """
    with losing(3, sqlstate) as tried:
        reply = Api(school.noor.user).post("bookings/", school.slot(), key="one")
    assert (reply.status, len(tried), Booking.objects.count()) == (201, 4, 1)


def test_past_three_retries_it_says_when_to_come_back(school: School) -> None:
    """503 with Retry-After (RFC 9110 section 10.2.3); nothing is written, not even under the key,
    which then works.
    """
    noor = Api(school.noor.user)
    with losing(4, "40001") as tried:
        reply = noor.post("bookings/", school.slot(), key="one")
    assert (reply.status, reply.code, len(tried)) == (503, "busy", 4)
    assert int(reply.headers["Retry-After"]) > 0
    assert not Booking.objects.exists()
    assert not KeptAnswer.objects.exists()
    assert noor.post("bookings/", school.slot(), key="one").status == 201


def test_another_fault_is_not_run_again(school: School) -> None:
    """What is no lost race is an outage: told at once as one, run once, and never kept."""
    with losing(1, "57014") as tried:
        reply = Api(school.noor.user).post("bookings/", school.slot(), key="one")
    assert (reply.status, reply.json["code"], len(tried)) == (503, "busy", 1)
    assert not KeptAnswer.objects.exists()


def test_waits_between_retries_differ(monkeypatch: pytest.MonkeyPatch, school: School) -> None:
    """Two that met do not meet again: each wait has its own length, and each is longer than the one
    before can be.
    """
    waits: list[float] = []
    monkeypatch.setattr(door.time, "sleep", waits.append)
    for _ in range(4):
        with losing(4, "40001"):
            Api(school.noor.user).post("bookings/", school.slot())
    assert len(waits) == 12
    assert len(set(waits)) == 12
    assert all(
        0.01 * 2**attempt <= waited <= 0.03 * 2**attempt
        for attempt, waited in zip([0, 1, 2] * 4, waits, strict=True)
    )
