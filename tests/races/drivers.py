"""Clients for races: processes that are spawned once, each with threads that fire at one instant
over real HTTP.

Nothing here touches Django: a driver knows an address, tokens and bodies. Each answer becomes one
line of a history.
"""

import http.client
import json
import multiprocessing
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import Any

from tests.races.events import Event

PROCESSES, THREADS = 4, 25
LEAD = 0.25
"""Seconds between the order to fire and the first shot: every thread is waiting by then."""
PATIENCE = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One request: who asks for what, `delay` seconds after the first. `student` and `told` are for
    the history, not for the server.
    """

    operation: str
    path: str
    token: str = ""
    method: str = "POST"
    body: Mapping[str, Any] | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    delay: float = 0.0
    student: int | None = None
    told: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One answer; status None where none came. Times are of time.monotonic(), in seconds."""

    shot: Shot
    called: float
    returned: float | None = None
    status: int | None = None
    content_type: str = ""
    raw: bytes = b""

    @property
    def body(self) -> dict[str, Any]:
        """The JSON answer; empty where there is none."""
        if "json" not in self.content_type:
            return {}
        found = json.loads(self.raw)
        return found if isinstance(found, dict) else {}

    @property
    def seconds(self) -> float:
        return PATIENCE if self.returned is None else self.returned - self.called

    def event(self, client: int) -> Event:
        """The line of the history."""
        arguments = {**(self.shot.body or {}), **self.shot.told}
        if self.shot.student is not None:
            arguments["student"] = self.shot.student
        for header, name in (("Idempotency-Key", "key"), ("If-Match", "if_match")):
            if self.shot.headers.get(header, "*") != "*":
                arguments[name] = self.shot.headers[header]
        return Event(
            client,
            self.shot.operation,
            arguments,
            self.called,
            self.returned,
            self.status,
            self.body,
        )


class Drivers:
    """Four processes that wait for shots.

    A forked one would share its parent's connections, so they are spawned.
    """

    def __init__(self, ends: Sequence[Connection]) -> None:
        self._ends = ends

    def volley(
        self,
        port: int,
        shots: Sequence[Shot],
        *,
        meanwhile: Callable[[float], object] | None = None,
    ) -> list[Hit]:
        """All shots, 100 at most in the air at once; the answers in the order of the shots.

        `meanwhile` runs here while they fly and gets the instant of the first, of time.monotonic().
        """
        if len(shots) > PROCESSES * THREADS:
            raise ValueError(f"{len(shots)} shots for {PROCESSES * THREADS} clients")
        for i, end in enumerate(self._ends):
            end.send((port, list(shots[i::PROCESSES])))
        for end in self._ends:
            end.recv()  # its threads stand
        first = time.monotonic() + LEAD
        for end in self._ends:
            end.send(first)
        if meanwhile is not None:
            meanwhile(first)
        hits: list[Hit | None] = [None] * len(shots)
        for i, end in enumerate(self._ends):
            hits[i::PROCESSES] = end.recv()
        return [hit for hit in hits if hit is not None]


@contextmanager
def driving() -> Iterator[Drivers]:
    """The drivers, ended afterwards."""
    spawned = multiprocessing.get_context("spawn")
    pairs = [spawned.Pipe() for _ in range(PROCESSES)]
    workers = [spawned.Process(target=_drive, args=(theirs,), daemon=True) for _, theirs in pairs]
    for worker in workers:
        worker.start()
    ends = [ours for ours, _ in pairs]
    try:
        yield Drivers(ends)
    finally:
        for end, worker in zip(ends, workers, strict=True):
            end.close()
            worker.terminate()
            worker.join(timeout=10)


def volley(port: int, shots: Sequence[Shot]) -> list[Hit]:
    """One volley with drivers of its own."""
    with driving() as drivers:
        return drivers.volley(port, shots)


def _drive(end: Connection) -> None:
    while True:
        try:
            port, shots = end.recv()
        except EOFError:
            return
        first: list[float] = []
        gate, told = threading.Barrier(len(shots) + 1), threading.Event()
        hits: list[Hit | None] = [None] * len(shots)

        def fire(
            i: int,
            shot: Shot,
            port: int = port,
            gate: threading.Barrier = gate,
            told: threading.Event = told,
            first: list[float] = first,
            hits: list[Hit | None] = hits,
        ) -> None:
            gate.wait()
            told.wait()
            time.sleep(max(0.0, first[0] + shot.delay - time.monotonic()))
            hits[i] = ask(port, shot)

        threads = [threading.Thread(target=fire, args=(i, shot)) for i, shot in enumerate(shots)]
        for thread in threads:
            thread.start()
        gate.wait()
        end.send("ready")
        first.append(end.recv())
        told.set()
        for thread in threads:
            thread.join()
        end.send(hits)


def ask(port: int, shot: Shot) -> Hit:
    """One request on a connection of its own; a connection that breaks is an answer that never
    came.
    """
    headers = {"Accept-Encoding": "identity", **shot.headers}
    if shot.token:
        headers["Authorization"] = f"Bearer {shot.token}"
    text = None
    if shot.body is not None:
        text, headers["Content-Type"] = json.dumps(shot.body), "application/json"
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    called = time.monotonic()
    try:
        connection.request(shot.method, shot.path, text, headers)
        response = connection.getresponse()
        raw = response.read()
        returned = time.monotonic()
    except (OSError, http.client.HTTPException):
        return Hit(shot=shot, called=called)
    finally:
        connection.close()
    kind = response.headers.get_content_type()
    return Hit(
        shot=shot,
        called=called,
        returned=returned,
        status=response.status,
        content_type=kind,
        raw=raw,
    )
