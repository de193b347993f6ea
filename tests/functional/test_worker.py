"""A real Celery worker over a real broker: what is committed here leaves from another process."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.db import connection, transaction

from bookings import clock, outbox, tasks
from bookings.models import OutboxMessage
from bookings.notices.rows import row
from tests.cast import make_user
from tests.letters import written
from tests.run import ROOT

pytestmark = [pytest.mark.redis, pytest.mark.django_db(transaction=True)]
PATIENCE = 60  # seconds for an interpreter, Django and Celery to start on a busy machine


@pytest.fixture
def worker(tmp_path: Path) -> Iterator[Path]:
    """A worker on this test's own database; the folder that it writes its mail to."""
    mail = tmp_path / "mail"
    database = urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{connection.settings_dict['NAME']}").geturl()
    environment = {
        **os.environ,
        "DATABASE_URL": database,
        "REDIS_URL": settings.REDIS_URL,
        "EMAIL_URL": f"filemail://{mail}",
        "EMAIL_FILE_PATH": str(mail),
    }
    command = [sys.executable, "-m", "celery", "-A", "config", "worker", "--pool=solo", "--loglevel=warning", "--purge"]
    with (tmp_path / "worker.log").open("wb") as log:
        process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=log, stderr=subprocess.STDOUT)
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
        message = row(make_user(), outbox.MessageKind.TOLD, "x", "x", title="From a worker", body="Words.\n", now=now)
        outbox.enqueue([message], now=now)
    outbox.register_notifier(tasks.ask_a_worker)
    try:
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until and OutboxMessage.objects.get().state != OutboxMessage.State.SENT:
            outbox.nudge()  # more than one nudge sends no more than one mail
            time.sleep(0.5)
    finally:
        outbox.register_notifier(None)
    mails = written(worker) if worker.exists() else []
    assert [mail["Message-ID"] for mail in mails] == [message.message_id], (tmp_path / "worker.log").read_text()[-4000:]


def test_what_falls_due_is_done_by_the_same_tasks() -> None:
    """The minute's task may run twice: nothing is due, nothing happens."""
    tasks.enqueue_due()
    tasks.enqueue_due()
    assert tasks.drain_outbox() == 0
