"""What `docker compose up` starts, started by hand: the very commands and health checks of
docker-compose.yml as local processes.

No container engine is needed. The file's hosts, port and folder are mapped to this machine's;
everything else is as it stands there: the production profile, PostgreSQL, Redis, a worker and beat
in processes of their own. Mail leaves over SMTP.
"""

import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from base64 import b64encode
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from email import message_from_bytes
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
import pytest
import yaml
from aiosmtpd.controller import Controller
from django.conf import settings
from psycopg import sql

from tests import cast
from tests.races.server import ROOT, free_port

pytestmark = [pytest.mark.postgres, pytest.mark.redis]
SERVICES: dict[str, dict[str, Any]] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())[
    "services"
]
HOST = "school.example"
PATIENCE = 240  # seconds for a process to be well, on a machine that is busy with other tests
SCHOOL = """
from datetime import timedelta
from django.utils import timezone
from tests import cast
cast.make_policy(in_force_from=timezone.now() - timedelta(days=400))
offering, ilse = cast.make_offering(), cast.make_instructor()
cast.teaches(ilse, offering)
cast.publish(ilse, cast.EVERY_DAY)
cast.make_student(email="noor@rowanmere.example", password=cast.PASSWORD)
"""


class Sink:
    """A mail server that keeps what it gets."""

    def __init__(self) -> None:
        self.letters: list[bytes] = []

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        self.letters.append(envelope.content)
        return "250 OK"


@contextmanager
def mail_server() -> Iterator[tuple[Sink, int]]:
    sink, port = Sink(), free_port()
    controller = Controller(sink, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield sink, port
    finally:
        controller.stop()


@contextmanager
def empty_database() -> Iterator[str]:
    """The address of a database of this test's own, dropped at the end."""
    name, url = f"levare_processes_{os.getpid()}", urlsplit(os.environ["DATABASE_URL"])
    with psycopg.connect(url._replace(path="/postgres").geturl(), autocommit=True) as server:
        server.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        try:
            yield url._replace(path=f"/{name}").geturl()
        finally:
            server.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


class House:
    """The processes of one `docker compose up`, each with its log."""

    def __init__(self, folder: Path, environment: dict[str, str], port: int) -> None:
        self.folder, self.environment, self.port = folder, environment, port
        self.running: dict[str, subprocess.Popen[bytes]] = {}

    def words(self, command: list[str]) -> list[str]:
        """A command of the file with its folder and port as they are here, and Compose's own $$
        read as $.
        """
        here = {
            "/srv/levare/var": str(self.folder),
            "127.0.0.1:8000": f"127.0.0.1:{self.port}",
            "$$": "$",
        }
        for there, instead in here.items():
            command = [word.replace(there, instead) for word in command]
        return command

    def log(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text()

    def start(self, name: str) -> subprocess.Popen[bytes]:
        with (self.folder / f"{name}.log").open("wb") as log:
            command = self.words(SERVICES[name]["command"])
            self.running[name] = subprocess.Popen(
                command, cwd=ROOT, env=self.environment, stdout=log, stderr=subprocess.STDOUT
            )
        return self.running[name]

    def wait_until_well(self, name: str) -> None:
        """Runs the service's own health check until it succeeds."""
        kind, *command = self.words(SERVICES[name]["healthcheck"]["test"])
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            assert self.running[name].poll() is None, self.log(name)
            check = ["/bin/sh", "-c", *command] if kind == "CMD-SHELL" else command
            if (
                subprocess.run(
                    check, cwd=ROOT, env=self.environment, capture_output=True, check=False
                ).returncode
                == 0
            ):
                return
            time.sleep(0.3)
        pytest.fail(f"{name} is not well:\n{self.log(name)[-4000:]}")

    def stop(self) -> dict[str, int]:
        """SIGTERM to each, as Compose does; the exit codes.

        One that does not end within the file's grace is killed.
        """
        for process in self.running.values():
            process.send_signal(signal.SIGTERM)
        codes = {}
        for name, process in self.running.items():
            try:
                codes[name] = process.wait(60)
            except subprocess.TimeoutExpired:
                process.kill()
                codes[name] = process.wait()
        self.running = {}
        return codes

    def ask(self, path: str, sent: Any = None, token: str = "") -> tuple[int, Any]:
        """One request as the proxy in front passes it on."""
        headers = {"Host": HOST, "X-Forwarded-Proto": "https", "Content-Type": "application/json"}
        if token:
            headers["Authorization"] = f"Bearer {token}"
        body = None if sent is None else json.dumps(sent).encode()
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", body, headers)
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, json.load(answer)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[tuple[House, Sink]]:
    port = free_port()
    with ExitStack() as opened:
        sink, smtp = opened.enter_context(mail_server())
        environment = {
            # Nothing of this run's own settings, which are the test life's.
            "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
            "HOSTNAME": socket.gethostname(),
            "PYTHONUNBUFFERED": "1",
            "LEVARE_PROFILE": SERVICES["web"]["environment"]["LEVARE_PROFILE"],
            "LEVARE_VAR": str(tmp_path),
            "STATIC_ROOT": str(tmp_path / "static"),
            "SECRET_KEY": secrets.token_urlsafe(50),
            "METRICS_TOKEN": secrets.token_urlsafe(32),
            "NOTE_KEYS": b64encode(secrets.token_bytes(32)).decode(),
            "ALLOWED_HOSTS": HOST,
            "BASE_URL": f"https://{HOST}",
            "ORGANIZER_EMAIL": f"lessons@{HOST}",
            "EMAIL_URL": f"smtp://127.0.0.1:{smtp}",
            "DATABASE_URL": opened.enter_context(empty_database()),
            "REDIS_URL": settings.REDIS_URL,
            "GUNICORN_CMD_ARGS": f"--bind 127.0.0.1:{port}",
        }
        standing = House(tmp_path, environment, port)
        opened.callback(standing.stop)
        yield standing, sink


def figures_of(standing: House) -> dict[str, float]:
    """What /metrics/ tells whoever has the token, by name and labels."""
    headers = {
        "Host": HOST,
        "X-Forwarded-Proto": "https",
        "Authorization": f"Bearer {standing.environment['METRICS_TOKEN']}",
    }
    with urllib.request.urlopen(
        urllib.request.Request(f"http://127.0.0.1:{standing.port}/metrics/", headers=headers),
        timeout=30,
    ) as told:
        lines = told.read().decode().splitlines()
    return {
        name: float(value)
        for name, _, value in (line.rpartition(" ") for line in lines if not line.startswith("#"))
    }


def wait_for(what: Any, log: Any) -> None:
    until = time.monotonic() + PATIENCE
    while not what():
        assert time.monotonic() < until, log()[-4000:]
        time.sleep(0.1)


def test_compose_starts_a_school(house: tuple[House, Sink]) -> None:
    """Migrated once, web, worker and beat are well by their own health checks; a lesson is booked
    over HTTP, its letters leave through the worker, beat asks what is due; on SIGTERM all end
    cleanly.
    """
    standing, sink = house
    assert standing.start("migrate").wait(PATIENCE) == 0, standing.log("migrate")
    standing.running.clear()
    python = shutil.which("python", path=standing.environment["PATH"])
    subprocess.run(  # the image has collected its files
        [str(python), "manage.py", "collectstatic", "--noinput", "-v", "0"],
        cwd=ROOT,
        env=standing.environment,
        check=True,
    )
    subprocess.run(
        [str(python), "manage.py", "shell", "-v", "0", "-c", SCHOOL],
        cwd=ROOT,
        env=standing.environment,
        check=True,
    )

    for name in ("web", "worker", "beat"):
        standing.start(name)
    for name in ("web", "worker", "beat"):
        standing.wait_until_well(name)

    wait_for(lambda: "task_enqueued" in standing.log("beat"), lambda: standing.log("beat"))
    _, signed_in = standing.ask(
        "/api/v1/tokens/", {"email": "noor@rowanmere.example", "password": cast.PASSWORD}
    )
    token = signed_in["token"]
    _, offerings = standing.ask("/api/v1/offerings/", token=token)
    offering = offerings["results"][0]["id"]
    _, slots = standing.ask(f"/api/v1/slots/?offering={offering}", token=token)
    first = slots["results"][0]
    sent = {
        "offering": offering,
        "instructor": first["instructor"]["id"],
        "starts_at": first["starts_at"],
    }
    status, booked = standing.ask("/api/v1/bookings/", sent, token)
    assert (status, booked["standing"]) == (201, "HELD")

    assert figures_of(standing)['levare_bookings{ended="",standing="HELD"}'] == 1
    for _ in range(
        12
    ):  # gunicorn's two processes share them somehow; whoever is asked knows the sum
        with pytest.raises(urllib.error.HTTPError, match="404"):
            standing.ask("/calendar/nobody-has-this.ics")
    assert {figures_of(standing)['levare_feed_answers_total{status="404"}'] for _ in range(4)} == {
        12
    }

    wait_for(lambda: sink.letters, lambda: standing.log("worker"))
    assert any(
        "noor@rowanmere.example" in str(message_from_bytes(letter)["To"]) for letter in sink.letters
    )
    assert all(
        json.loads(line) for name in ("web", "beat") for line in standing.log(name).splitlines()
    )
    for name in ("web", "worker", "beat"):
        started = [
            line for line in standing.log(name).splitlines() if '"event": "levare starts"' in line
        ]
        assert started and all(json.loads(line)["profile"] == "production" for line in started)
    assert standing.stop() == {"web": 0, "worker": 0, "beat": 0}
