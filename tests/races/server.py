"""The real server for a race, on the test's own database and a free port."""

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connection

ROOT = Path(__file__).resolve().parent.parent.parent
OPTIONS = {"worker-class": "gthread", "timeout": 120, "log-level": "error", "backlog": 512}


def database_url() -> str:
    """The test database's address, for another process."""
    settings = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{settings['NAME']}"
    person = f"{settings['USER']}:{settings['PASSWORD']}"
    return f"postgres://{person}@{settings['HOST']}:{settings['PORT']}/{settings['NAME']}"


def free_port() -> int:
    """A port that nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serve(
    *,
    workers: int = 4,
    threads: int = 4,
    application: str = "config.wsgi",
    log: Path | None = None,
    throttle: str = "6000/min",
) -> Iterator[int]:
    """The port of a gunicorn that serves the test database; stopped at the end.

    What it says goes to `log`, if one is named.

    As many processes and threads as `config/gunicorn.py` starts, unless a control needs others.
    """
    port = free_port()
    # Throttles stay on and are raised: a hundred accounts share one address.
    environment = {
        **os.environ,
        "LEVARE_PROFILE": "test",
        "DATABASE_URL": database_url(),
        "THROTTLE_USER": throttle,
        "THROTTLE_ANON": throttle,
    }
    options = {**OPTIONS, "bind": f"127.0.0.1:{port}", "workers": workers, "threads": threads}
    flags = [text for name, value in options.items() for text in (f"--{name}", str(value))]
    with open(log or os.devnull, "ab") as said:
        process = subprocess.Popen(
            [sys.executable, "-m", "gunicorn", application, *flags],
            cwd=ROOT,
            env=environment,
            stdout=said if log else None,
            stderr=said if log else None,
        )
        try:
            _wait_for(port, process)
            yield port
        finally:
            process.terminate()
            process.wait(timeout=30)


def _wait_for(port: int, process: subprocess.Popen[bytes]) -> None:
    for _ in range(300):
        if process.poll() is not None:
            raise RuntimeError(f"the server stopped with {process.returncode}")
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/health/live/", timeout=2):
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            time.sleep(0.1)
    raise RuntimeError("the server does not answer")
