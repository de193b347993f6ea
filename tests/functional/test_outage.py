"""The database is away, or its disk is full: a clean "busy" with Retry-After, and the next request
is served again.
"""

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.cache import cache
from django.db import DatabaseError, OperationalError, connection
from django.test import Client
from knox.models import AuthToken

from bookings import clock, door
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.rows import row
from bookings.outbox import MessageKind
from tests.cast import NOW
from tests.functional.api.school import School, make_school

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def school() -> School:
    cache.clear()
    return make_school()


@pytest.fixture
def database_away(monkeypatch: pytest.MonkeyPatch, school: School) -> Iterator[None]:
    """New connections lead nowhere: a file in a folder that is not there, or a port on which nobody
    listens.
    """
    connection.close()
    nowhere = (
        ("NAME", "/nowhere/levare.sqlite3") if connection.vendor == "sqlite" else ("PORT", "9")
    )
    with monkeypatch.context() as patched:
        patched.setitem(connection.settings_dict, *nowhere)
        yield
        connection.close()


def browser() -> Client:
    """A client that sees what a server would send, where the test client would raise."""
    return Client(raise_request_exception=False)


def bearer(school: School) -> dict[str, str]:
    return {"Authorization": f"Bearer {AuthToken.objects.create(user=school.noor.user)[1]}"}


def far_enough() -> str:
    """Noon in Dublin four days from now, on the machine's own clock."""
    dublin = ZoneInfo("Europe/Dublin")
    return datetime.combine(
        clock.now().astimezone(dublin).date() + timedelta(days=4), time(12), dublin
    ).isoformat()


def check_busy(answer: Any, path: str) -> None:
    """RFC 9457 and RFC 9110 section 10.2.3: a problem document and how many seconds to wait."""
    assert answer.status_code == 503, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    assert int(answer["Retry-After"]) > 0
    assert (answer.json()["code"], answer.json()["status"], answer.json()["instance"]) == (
        "busy",
        503,
        path,
    )


def test_the_api_says_busy_while_the_database_is_away(
    request: pytest.FixtureRequest, school: School
) -> None:
    """A read and a write get 503 problem+json with Retry-After; when the database is back, so is
    the service.
    """
    headers = bearer(school)
    request.getfixturevalue("database_away")
    check_busy(browser().get("/api/v1/me/", headers=headers), "/api/v1/me/")
    sent = browser().post(
        "/api/v1/bookings/", school.slot(), content_type="application/json", headers=headers
    )
    check_busy(sent, "/api/v1/bookings/")


def test_a_page_says_busy_while_the_database_is_away(
    request: pytest.FixtureRequest, school: School
) -> None:
    """Where the session cannot be read there is a plain page with 503; the API answers the same
    browser with a problem document.
    """
    client = browser()
    client.force_login(school.noor.user)
    request.getfixturevalue("database_away")
    page = client.get("/")
    assert (page.status_code, page["Content-Type"]) == (503, "text/html; charset=utf-8")
    assert int(page["Retry-After"]) > 0
    assert b"Traceback" not in page.content
    check_busy(client.get("/api/v1/me/"), "/api/v1/me/")


def test_a_fault_of_ours_is_no_outage(school: School) -> None:
    """A table that is not there is a mistake in the program: it stays a 500 and is not put down to
    the database.
    """
    with pytest.raises(DatabaseError) as wrong, connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM nowhere")
    assert door.outage(wrong.value) is None
    assert door.outage(ValueError("words")) is None


@pytest.mark.skipif(
    connection.vendor != "sqlite", reason="a limit of one file; the fault run fills a disk"
)
def test_a_full_disk_is_busy_and_nothing_is_half_written(school: School) -> None:
    """SQLite may not grow: 503 and no row; once it may, the same key books."""
    headers = {**bearer(school), "Idempotency-Key": '"full-1"'}
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")  # what earlier tests left free would hold what is to find no room
        # https://www.sqlite.org/pragma.html#pragma_max_page_count: "database or disk is full", as
        # from ENOSPC.
        pages = cursor.execute("PRAGMA page_count").fetchone()[0]
        cursor.execute(f"PRAGMA max_page_count = {pages + 4}")
    letters = [
        row(school.dag, MessageKind.TOLD, "filler", str(i), title="x", body="x" * 3000, now=NOW)
        for i in range(100)
    ]
    with pytest.raises(OperationalError):
        all(letter.save() is None for letter in letters)
    counts = [Meeting.objects.count(), Booking.objects.count(), OutboxMessage.objects.count()]
    try:
        body = school.slot(starts_at=far_enough())
        full = browser().post(
            "/api/v1/bookings/", body, content_type="application/json", headers=headers
        )
        check_busy(full, "/api/v1/bookings/")
        assert [
            Meeting.objects.count(),
            Booking.objects.count(),
            OutboxMessage.objects.count(),
        ] == counts
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA max_page_count = {2**31}")
    again = browser().post(
        "/api/v1/bookings/", body, content_type="application/json", headers=headers
    )
    assert again.status_code == 201, again.content
