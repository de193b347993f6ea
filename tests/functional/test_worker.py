"""A real Celery worker over a real broker: what is committed here leaves from another process."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.db import connection, transaction
from django.test import Client
from knox.models import AuthToken

from accounts.models import Instructor, User
from bookings import clock, outbox, tasks
from bookings.models import Offering, OutboxMessage
from bookings.notices.rows import row
from tests import cast
from tests.cast import make_user
from tests.letters import written
from tests.run import ROOT

pytestmark = [pytest.mark.redis, pytest.mark.django_db(transaction=True)]
PATIENCE = 60  # seconds for an interpreter, Django and Celery to start on a busy machine


@pytest.fixture
def worker(tmp_path: Path) -> Iterator[Path]:
    """A worker on this test's own database; the folder that it writes its mail to."""
    mail = tmp_path / "mail"
    database = (
        urlsplit(os.environ["DATABASE_URL"])
        ._replace(path=f"/{connection.settings_dict['NAME']}")
        .geturl()
    )
    environment = {
        **os.environ,
        "DATABASE_URL": database,
        "REDIS_URL": settings.REDIS_URL,
        "EMAIL_URL": f"filemail://{mail}",
        "EMAIL_FILE_PATH": str(mail),
    }
    environment["LEVARE_LOG"] = "INFO"
    command = [sys.executable, "-m", "celery", "-A", "config", "worker", "--pool=solo", "--purge"]
    with (tmp_path / "worker.log").open("wb") as log:
        process = subprocess.Popen(
            command, cwd=ROOT, env=environment, stdout=log, stderr=subprocess.STDOUT
        )
    try:
        yield mail
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def test_a_worker_sends_what_was_committed(worker: Path, tmp_path: Path) -> None:
    """Enqueued and committed, a worker is nudged through Redis, and one mail is in its folder."""
    now = clock.now()
    with transaction.atomic():
        message = row(
            make_user(),
            outbox.MessageKind.TOLD,
            "x",
            "x",
            title="From a worker",
            body="Words.\n",
            now=now,
        )
        outbox.enqueue([message], now=now)
    outbox.register_notifier(tasks.ask_a_worker)
    try:
        until = time.monotonic() + PATIENCE
        while (
            time.monotonic() < until
            and OutboxMessage.objects.get().state != OutboxMessage.State.SENT
        ):
            outbox.nudge()  # more than one nudge sends no more than one mail
            time.sleep(0.5)
    finally:
        outbox.register_notifier(None)
    mails = written(worker) if worker.exists() else []
    assert [mail["Message-ID"] for mail in mails] == [message.message_id], (
        tmp_path / "worker.log"
    ).read_text()[-4000:]


def book_first_slot(
    student: User, offering: Offering, instructor: Instructor, *, request_id: str
) -> None:
    """Over HTTP, under that request id; the slots are asked for under it too."""
    token = AuthToken.objects.create(user=student)[1]
    client = Client(headers={"Authorization": f"Bearer {token}", "X-Request-ID": request_id})
    slots = client.get(f"/api/v1/slots/?offering={offering.pk}").json()["results"]
    sent = {
        "offering": offering.pk,
        "instructor": instructor.pk,
        "starts_at": slots[0]["starts_at"],
    }
    answer = client.post("/api/v1/bookings/", sent, "application/json")
    assert answer.status_code == 201


def wait_for(text: str, log: Path, until: float) -> None:
    """Until the worker's log has the text, or until that moment of time.monotonic()."""
    while time.monotonic() < until and text not in log.read_text():
        time.sleep(0.2)


def test_a_requests_id_travels_into_the_task(worker: Path, tmp_path: Path) -> None:
    """Under the id with which a booking came, its lines are found in the web process's log and in
    the worker's.
    """
    cast.make_policy(in_force_from=clock.now() - timedelta(days=400))
    offering, ilse = cast.make_offering(), cast.make_instructor()
    cast.teaches(ilse, offering)
    cast.publish(ilse, cast.EVERY_DAY)
    student = cast.make_student().user
    assert student is not None
    log, until = tmp_path / "worker.log", time.monotonic() + PATIENCE
    wait_for("ready.", log, until)  # at its start it empties the queue
    outbox.register_notifier(tasks.ask_a_worker)
    try:
        book_first_slot(student, offering, ilse, request_id="the-booking-of-this-test")
    finally:
        outbox.register_notifier(None)
    wait_for('"task_succeeded"', log, until)
    lines = [
        json.loads(line)
        for line in log.read_text().splitlines()
        if "the-booking-of-this-test" in line
    ]
    assert {"task_started", "task_succeeded"} <= {line["event"] for line in lines}, log.read_text()[
        -4000:
    ]
    assert all("ip" not in line for line in lines)
    assert student.email not in log.read_text()


def test_what_falls_due_is_done_by_the_same_tasks() -> None:
    """The minute's task may run twice: nothing is due, nothing happens."""
    tasks.enqueue_due()
    tasks.enqueue_due()
    assert tasks.drain_outbox() == 0
