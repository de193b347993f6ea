"""Alive, and ready to serve: what a load balancer and a person on call are told."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from bookings import clock
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import guards
from bookings.notices.rows import row
from bookings.outbox import MessageKind
from tests.cast import make_user

pytestmark = pytest.mark.django_db


def test_alive_asks_nothing(django_assert_num_queries: Any) -> None:
    """200 without a look at the database."""
    with django_assert_num_queries(0):
        answer = Client().get("/health/live/")
    assert (answer.status_code, answer.json()) == (200, {"alive": True})


def test_ready_tells_what_it_stands_on() -> None:
    """Every check by name, the version of the zone database, and the wait of the oldest message, which turns nobody away."""
    now = clock.now()
    message = row(make_user(), MessageKind.TOLD, "x", "x", title="x", body="x", now=now - timedelta(minutes=10))
    message.save()
    answer = Client().get("/health/ready/")
    told = answer.json()
    assert answer.status_code == 200, told
    assert told["ready"] is True
    assert {"database", "migrations", "guards"} <= set(told["checks"])
    assert told["tzdata"] == TZDATA_VERSION
    assert 600 <= told["oldest_unsent_seconds"] < 660
    assert "no-store" in answer["Cache-Control"]


def test_a_missing_guard_is_not_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """503, and the name of what is wrong without its details."""
    monkeypatch.setattr(guards, "missing", lambda connection: ["meeting_instructor_free"])
    answer = Client().get("/health/ready/")
    assert answer.status_code == 503
    assert answer.json()["checks"]["guards"] is False
    assert "meeting_instructor_free" not in answer.content.decode()


def test_an_unapplied_migration_is_not_ready() -> None:
    """A process whose tables are older than its code does not serve."""
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'bookings'")
    answer = Client().get("/health/ready/")
    assert answer.status_code == 503
    assert answer.json()["checks"]["migrations"] is False


def test_a_database_that_does_not_answer_is_not_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """503 and not an error page."""
    monkeypatch.setattr(connection, "cursor", lambda: 1 / 0)
    answer = Client().get("/health/ready/")
    assert (answer.status_code, answer.json()["ready"]) == (503, False)


def test_a_broker_that_does_not_answer_is_not_ready(settings: Any) -> None:
    """Where a broker is configured it belongs to what must be there."""
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    answer = Client().get("/health/ready/")
    assert answer.status_code == 503
    assert answer.json()["checks"]["broker"] is False
