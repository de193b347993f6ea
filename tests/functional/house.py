"""The processes of one `docker compose up`, started by hand."""

import json
import os
import secrets
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
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
import pytest
import yaml
from aiosmtpd.controller import Controller
from django.conf import settings
from psycopg import sql

from tests.races.server import ROOT, free_port

SERVICES: dict[str, dict[str, Any]] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())[
    "services"
]

HOST = "school.example"

PATIENCE = 240  # seconds for a process to be well, on a machine that is busy with other tests


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
