"""Alive, and ready to serve: what a load balancer and a person on call are told."""

import json
import threading
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client

from bookings import checks, clock, health
from bookings.domain.zones import TZDATA_VERSION
from bookings.notices.rows import row
from bookings.outbox import MessageKind
from tests.cast import make_user

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    """Each test looks for itself."""
    health.forget()


def test_alive_asks_nothing(django_assert_num_queries: Any) -> None:
    """200 without a look at the database."""
    with django_assert_num_queries(0):
        answer = Client().get("/health/live/")
    assert (answer.status_code, answer.json()) == (200, {"alive": True})


def waiting_for(minutes: int) -> None:
    now = clock.now()
    row(
        make_user(),
        MessageKind.TOLD,
        "x",
        "x",
        title="x",
        body="x",
        now=now - timedelta(minutes=minutes),
    ).save()


def asked() -> tuple[int, dict[str, Any]]:
    answer = Client().get("/health/ready/")
    assert "no-store" in answer["Cache-Control"]
    return answer.status_code, answer.json()


def test_ready_tells_what_it_stands_on() -> None:
    """Every part by name with a plain word, the version of the zone database, and the wait of the
    oldest message.
    """
    waiting_for(10)
    status, told = asked()
    assert (status, told["ready"], told["failed"]) == (200, True, []), told
    parts = [
        "database",
        "migrations",
        "guards",
        "time zones",
        "static files",
        *(["broker"] if settings.REDIS_URL else []),
    ]
    assert told["checks"] == {**dict.fromkeys(parts, "ok"), "mail": "on time"}
    assert (told["profile"], told["tzdata"]) == ("test", TZDATA_VERSION)
    assert 600 <= told["oldest_unsent_seconds"] < 660


def test_late_mail_is_told_and_turns_nobody_away() -> None:
    """A message that has waited over a quarter of an hour is late; the process still serves."""
    waiting_for(20)
    status, told = asked()
    assert (status, told["ready"], told["checks"]["mail"]) == (200, True, "late")


def test_a_missing_guard_is_not_ready() -> None:
    """503, and the name of what failed without its details."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DROP TRIGGER meeting_instructor_free_insert")
        else:
            cursor.execute("ALTER TABLE bookings_meeting DROP CONSTRAINT meeting_instructor_free")
    status, told = asked()
    assert (status, told["failed"]) == (503, ["guards"])
    assert "meeting_instructor_free" not in str(told)


@pytest.mark.heavy
def test_an_unapplied_migration_is_not_ready(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process whose tables are older than its code does not serve, and does not read them for the
    mail either.
    """
    settings.MIGRATION_MODULES = {}  # the suite makes its tables from the models
    applied = dict(MigrationLoader(None).disk_migrations)
    monkeypatch.setattr(MigrationRecorder, "applied_migrations", lambda _: applied)
    assert asked()[1]["failed"] == []
    health.forget()
    applied = {name: one for name, one in applied.items() if name[0] != "bookings"}
    status, told = asked()
    assert (status, told["failed"], told["checks"]["mail"]) == (503, ["migrations"], "unknown")


def test_a_database_that_does_not_answer_is_not_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """503 and not an error page; what cannot be asked has failed too."""
    monkeypatch.setattr(connection, "cursor", lambda: 1 / 0)
    status, told = asked()
    assert (status, told["ready"], told["oldest_unsent_seconds"]) == (503, False, None)
    assert {"database", "migrations", "guards"} <= set(told["failed"])
    assert told["checks"]["time zones"] == "ok"


def test_another_zone_database_is_not_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """A version other than the pinned one shows wrong hours."""
    monkeypatch.setattr(checks, "EXPECTED_TZDATA", "2031a")
    status, told = asked()
    assert (status, told["failed"]) == (503, ["time zones"])


def test_a_broker_that_is_away_turns_nobody_away(settings: Any) -> None:
    """Bookings need the database alone: it is told in a word, and the process still serves."""
    settings.REDIS_URL = "redis://:a-broker-password@127.0.0.1:1/0"
    status, told = asked()
    assert (status, told["ready"], told["failed"]) == (200, True, [])
    assert told["checks"]["broker"] == "away"
    assert "a-broker-password" not in str(told)


@pytest.mark.parametrize("collected", [{}, {"levare.css": "levare.0a1b2c.css"}])
def test_files_that_were_not_collected_are_not_ready(
    settings: Any, tmp_path: Path, collected: dict[str, str]
) -> None:
    """Nothing was collected, or only what an older version had: a page would be an error, so nobody
    is sent here.
    """
    manifest = {"version": "1.1", "paths": collected, "hash": ""}
    if collected:
        (tmp_path / "staticfiles.json").write_text(json.dumps(manifest))
    settings.STATIC_ROOT = str(tmp_path)
    backend = "whitenoise.storage.CompressedManifestStaticFilesStorage"
    settings.STORAGES = {**settings.STORAGES, "staticfiles": {"BACKEND": backend}}
    status, told = asked()
    assert (status, told["failed"]) == (503, ["static files"])


def test_collected_files_are_ready(settings: Any, tmp_path: Path) -> None:
    """After collectstatic the same settings serve."""
    settings.STATIC_ROOT = str(tmp_path)
    backend = "whitenoise.storage.CompressedManifestStaticFilesStorage"
    settings.STORAGES = {**settings.STORAGES, "staticfiles": {"BACKEND": backend}}
    call_command("collectstatic", verbosity=0, interactive=False)
    assert asked()[1]["checks"]["static files"] == "ok"


def test_no_address_and_no_secret_is_told() -> None:
    """The page is open to everybody: nothing in it names a person, a place or a key.

    Source: OWASP ASVS 5.0.0, V13.4.5.
    """
    waiting_for(20)
    told = Client().get("/health/ready/").content.decode()
    assert "@" not in told and "example" not in told and "://" not in told
    for secret in (settings.SECRET_KEY, *settings.NOTE_KEYS, connection.settings_dict["NAME"]):
        assert str(secret) not in told


def test_many_who_ask_cost_one_look(
    monkeypatch: pytest.MonkeyPatch, django_assert_num_queries: Any
) -> None:
    """Anybody may ask as often as they like; the parts are looked at once in a few seconds (OWASP
    API4:2023).
    """
    first = asked()
    with django_assert_num_queries(0):
        assert [asked() for _ in range(50)] == [first] * 50
    monkeypatch.setattr(checks, "EXPECTED_TZDATA", "2031a")
    later = time.monotonic() + health.KEPT_SECONDS
    monkeypatch.setattr(health.time, "monotonic", lambda: later)
    assert asked()[0] == 503
    assert health.KEPT_SECONDS <= 5


def test_many_who_ask_at_once_cost_one_look(monkeypatch: pytest.MonkeyPatch) -> None:
    """Threads that meet do not each look."""
    looked, begin = [], threading.Barrier(6)

    def look() -> tuple[int, dict[str, Any]]:
        looked.append(1)
        time.sleep(0.1)
        return 200, {"ready": True}

    def ask() -> None:
        begin.wait()
        Client().get("/health/ready/")

    monkeypatch.setattr(health, "_looked", look)
    threads = [threading.Thread(target=ask) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(looked) == 1
