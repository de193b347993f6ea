"""The product's own processes and the services under it, each private to a run, and each to be
killed with signal 9.

Only processes that were started here are killed. Nothing here touches Django.
"""

import os
import pwd
import signal
import socket
import subprocess
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]

PATIENCE = 180  # seconds for an interpreter, Django and a server to start on a busy machine

Environment = dict[str, str]


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port: int = probe.getsockname()[1]
        return port


def children(parent: int) -> list[int]:
    """The processes whose parent this is."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                stat = (entry / "stat").read_text()
            except OSError:
                continue  # ended meanwhile
            if int(stat.rpartition(")")[2].split()[1]) == parent:
                found.append(int(entry.name))
    return found


def kill_9(processes: Sequence[int]) -> None:
    for process in processes:
        with suppress(ProcessLookupError):
            os.kill(process, signal.SIGKILL)


def wait_until(there: Callable[[], bool], what: str, seconds: float = PATIENCE) -> None:
    until = time.monotonic() + seconds
    while not there():
        if time.monotonic() > until:
            raise RuntimeError(f"{what}: not within {seconds:.0f} s")
        time.sleep(0.1)


class Service:
    """One program and the processes that it starts."""

    def __init__(
        self,
        name: str,
        command: Sequence[str],
        environment: Environment,
        log: Path,
        user: str | None = None,
    ) -> None:
        self.name, self._command, self._environment, self._log, self._user = (
            name,
            list(command),
            environment,
            log,
            user,
        )
        self._process: subprocess.Popen[bytes] | None = None
        self.lock = threading.Lock()  # held while it is killed or started

    def start(self) -> None:
        with self._log.open("ab") as said:
            self._process = subprocess.Popen(
                self._command,
                cwd=ROOT if self._user is None else "/",
                env={**os.environ, **self._environment},
                stdout=said,
                stderr=said,
                start_new_session=True,
                user=self._user,
                group=pwd.getpwnam(self._user).pw_gid if self._user else None,
                extra_groups=[] if self._user else None,
            )

    @property
    def pid(self) -> int:
        assert self._process is not None
        return self._process.pid

    @property
    def runs(self) -> bool:
        return self._process is not None and self._process.poll() is None

    def kill(self) -> None:
        """The program first, so that it starts nothing anew, then all that it has started."""
        if self._process is None or not self.runs:  # its number may be another's by now
            return
        started = children(self.pid)
        kill_9([self.pid])
        self._process.wait()
        kill_9(started)
        wait_until(
            lambda: not any(alive(process) for process in started), f"the end of {self.name}", 20
        )

    def kill_program_only(self) -> None:
        """Its children outlive it, as after a crash of the parent alone."""
        if self._process is not None and self.runs:
            kill_9([self.pid])
            self._process.wait()

    def kill_a_child(self, number: int) -> None:
        """One of those it has started; which is the program's to notice."""
        found = sorted(children(self.pid)) if self.runs else []
        kill_9(found[number % len(found) :][:1] if found else [])

    def stop(self) -> None:
        """The polite way, at the end of a run."""
        if self._process is None or not self.runs:
            return
        self._process.terminate()
        try:
            self._process.wait(20)
        except subprocess.TimeoutExpired:
            self.kill()

    def log(self) -> str:
        """What it has said so far."""
        return self._log.read_text(errors="replace") if self._log.exists() else ""


def alive(process: int) -> bool:
    try:
        return "Z" not in Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[:1]
    except OSError:
        return False


def answers(port: int) -> bool:
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=1):
            return True
    except OSError:
        return False


def serves(port: int, path: str = "/health/live/") -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=5):
            return True
    except (urllib.error.URLError, ConnectionError, TimeoutError, OSError):
        return False
