"""Redis goes away under a web process that has it as broker and cache: no write waits for it, and
nothing is lost.
"""

import json
import os
import shutil
import signal
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from knox.models import AuthToken
from redis import Redis

from bookings import clock, tasks
from bookings.models import OutboxMessage
from tests import cast, services
from tests.races.faults import processes, programs
from tests.races.server import database_url

pytestmark = [pytest.mark.heavy, pytest.mark.redis, pytest.mark.django_db(transaction=True)]
PATIENCE = 60  # seconds
# seconds that a write may take longer than one did before; a broker that is waited for takes six
GRACE = 2.0


@dataclass
class House:
    """A web process with a Redis of its own."""

    redis: processes.Service
    broker: Redis
    port: int
    token: str = ""
    starts: tuple[str, ...] = ()
    offering: int = 0
    instructor: int = 0

    def ask(self, path: str, sent: Any = None) -> tuple[int, Any]:
        """One call as the student; the status and the answer."""
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        body = None if sent is None else json.dumps(sent).encode()
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", body, headers)
        with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
            return answer.status, json.load(answer)

    def book(self) -> float:
        """Books the next start; how many seconds that took."""
        start, *rest = self.starts
        self.starts = tuple(rest)
        sent = {"offering": self.offering, "instructor": self.instructor, "starts_at": start}
        began = time.monotonic()
        assert self.ask("/api/v1/bookings/", sent)[0] == 201
        return time.monotonic() - began

    def nudges(self) -> int:
        """How many tasks stand in the broker's queue."""
        return int(self.broker.llen("celery"))


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    """The web process of a school whose worker is not there to empty the queue."""
    if shutil.which("redis-server") is None:
        (pytest.fail if services.required() else pytest.skip)("redis-server is not installed")
    port, broker_port = processes.free_port(), processes.free_port()
    address = f"redis://127.0.0.1:{broker_port}/0"
    environment = {
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "LEVARE_PROFILE": "development",
        "LEVARE_VAR": str(tmp_path / "var"),
        "DATABASE_URL": database_url(),
        "REDIS_URL": address,
        "EMAIL_URL": f"filemail://{tmp_path}/mail",
    }
    redis = programs.redis(tmp_path, broker_port)
    web = programs.web(tmp_path, port, environment)
    broker = Redis.from_url(address)
    try:
        redis.start()
        processes.wait_until(lambda: processes.answers(broker_port), "Redis")
        web.start()
        processes.wait_until(lambda: processes.serves(port), "the web process")
        yield House(redis, broker, port)
    finally:
        broker.close()
        web.stop()
        if redis.runs:
            os.kill(redis.pid, signal.SIGCONT)
        redis.stop()


@pytest.fixture
def school(house: House, settings: Any) -> House:
    """A student who may book many lessons of one instructor.

    The suite makes its tables from the models; the web process serves where the migrations ran.
    """
    settings.MIGRATION_MODULES = {}
    recorder = MigrationRecorder(connection)
    recorder.ensure_schema()
    for app, name in MigrationLoader(None).disk_migrations:
        recorder.record_applied(app, name)
    cast.make_policy(in_force_from=clock.now() - timedelta(days=400), open_consultations=100)
    offering, ilse = cast.make_offering(), cast.make_instructor(time_zone="UTC")
    cast.teaches(ilse, offering)
    cast.publish(ilse, cast.EVERY_DAY)
    student = cast.make_student().user
    assert student is not None
    house.token = AuthToken.objects.create(user=student)[1]
    house.offering, house.instructor = offering.pk, ilse.pk
    noon = clock.now().replace(hour=12, minute=0, second=0, microsecond=0)
    house.starts = tuple((noon + timedelta(days=ahead)).isoformat() for ahead in range(2, 42))
    return house


@pytest.mark.parametrize("gone", ["ended", "silent"])
def test_no_write_waits_for_a_broker_that_is_away(school: House, gone: str) -> None:
    """It has ended, or it takes connections and answers nothing: bookings go on, ready says so in
    words, and on its return nudges reach it again; every email of that time leaves.
    """
    before = max(school.book() for _ in range(2))
    processes.wait_until(lambda: school.nudges() >= 1, "a nudge", PATIENCE)
    assert school.ask("/health/ready/")[1]["checks"]["broker"] == "ok"

    if gone == "ended":
        school.redis.kill()
    else:
        os.kill(school.redis.pid, signal.SIGSTOP)
    took = [school.book() for _ in range(4)]
    assert max(took) < before + GRACE, (before, took)
    processes.wait_until(  # what readiness saw is told for two seconds
        lambda: school.ask("/health/ready/")[1]["checks"]["broker"] == "away", "away", PATIENCE
    )
    status, told = school.ask("/health/ready/")
    assert (status, told["ready"], told["failed"]) == (200, True, [])

    if gone == "ended":
        school.redis.start()
        processes.wait_until(
            lambda: processes.answers(school.broker.get_connection_kwargs()["port"]), "Redis"
        )
    else:
        os.kill(school.redis.pid, signal.SIGCONT)
    school.broker.delete("celery")
    until = time.monotonic() + PATIENCE
    while not school.nudges() and time.monotonic() < until:
        school.book()
        time.sleep(3)
    assert school.nudges() >= 1, "after its return no nudge came"

    tasks.drain_outbox()
    due = OutboxMessage.objects.filter(due_at__lte=clock.now())
    assert set(due.values_list("state", flat=True)) == {OutboxMessage.State.SENT}
    assert due.filter(kind="invitation").count() >= 2 + len(took)
