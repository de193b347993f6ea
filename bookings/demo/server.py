"""Runs the real server on a fresh demo database in a folder of its own, and always stops it."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from bookings import clock
from bookings.demo.client import NotSoError, fetch
from bookings.demo.mailbox import Mailbox

HOST = "127.0.0.1"
START_WITHIN = 30.0  # seconds


@dataclass(frozen=True, slots=True)
class House:
    """A running school: its address, its emails and its process."""

    base: str
    mailbox: Mailbox
    process: subprocess.Popen[bytes]


_GUNICORN = [sys.executable, "-m", "gunicorn", "config.wsgi", "--workers=1"]
_GUNICORN += ["--worker-class=gthread", "--threads=8", "--graceful-timeout=5"]
_GUNICORN += ["--log-level=warning"]


@contextmanager
def serving(folder: Path, port: int = 0) -> Iterator[House]:
    """Loads the school into `folder` and serves it until the block ends. Port 0 is any free one."""
    log = folder / "server.log"
    with _ended_by(signal.SIGTERM):
        with socket.socket() as listening, log.open("wb") as written:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listening.bind((HOST, port))
            base = f"http://{HOST}:{listening.getsockname()[1]}"
            surroundings = _environment(folder, base)
            _load(surroundings)
            # The socket is handed over open, so that nobody else can take the port in between.
            process = subprocess.Popen(
                [*_GUNICORN, "--bind", f"fd://{listening.fileno()}"],
                cwd=settings.BASE_DIR,
                env=surroundings,
                pass_fds=[listening.fileno()],
                stdout=written,
                stderr=subprocess.STDOUT,
            )
        try:
            _wait_until_ready(base, process)
            yield House(base, Mailbox(folder / "mail"), process)
        except NotSoError as error:
            error.log = log.read_text(encoding="utf-8", errors="replace")[-3000:]
            raise
        finally:
            _stop(process)


def _environment(folder: Path, base: str) -> dict[str, str]:
    """The server's environment: every setting that the story needs, whatever .env says."""
    return {
        **os.environ,
        "LEVARE_PROFILE": "demo",
        "LEVARE_VAR": str(folder),
        "LEVARE_DEMO_BEGAN": str(clock.BEGAN),
        "DEMO_START": "2027-03-01T09:00:00+00:00",
        "DATABASE_URL": f"sqlite:///{folder / 'levare.sqlite3'}",
        "REDIS_URL": "",
        "OUTBOX_THREAD": "true",
        "EMAIL_URL": f"filemail:///{folder / 'mail'}",
        "EMAIL_FILE_PATH": str(folder / "mail"),
        "BASE_URL": base,
        "CSRF_TRUSTED_ORIGINS": base,
        "ALLOWED_HOSTS": f"{HOST},localhost",
        "ORGANIZER_EMAIL": "lessons@rowanmere.example",
        "SECOND_FACTOR_REQUIRED": "false",
    }


def _load(surroundings: dict[str, str]) -> None:
    command = [sys.executable, "manage.py", "demo_school"]
    ran = subprocess.run(
        command,
        cwd=settings.BASE_DIR,
        env=surroundings,
        capture_output=True,
        text=True,
        check=False,
    )
    if ran.returncode:
        raise NotSoError(
            "the school loads",
            "exit 0",
            f"exit {ran.returncode}\n{(ran.stdout + ran.stderr)[-3000:]}",
        )


def _wait_until_ready(base: str, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + START_WITHIN
    while process.poll() is None and time.monotonic() < until:
        with suppress(OSError):
            if fetch(f"{base}/health/ready/").status == 200:
                return
        time.sleep(0.1)
    raise NotSoError(
        "the server is ready",
        f"within {START_WITHIN:.0f} seconds",
        "it ended" if process.poll() else "it is not",
    )


def _stop(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


@contextmanager
def _ended_by(number: signal.Signals) -> Iterator[None]:
    """Lets this signal end the block like an error, so that everything is closed."""

    def leave(*_: object) -> None:
        raise SystemExit(128 + number)

    before = signal.signal(number, leave)
    try:
        yield
    finally:
        signal.signal(number, before)
