"""Clients for races: processes that are spawned, each with threads that fire at one instant over real HTTP.

Nothing here touches Django: a driver knows an address, tokens and bodies.
"""

import http.client
import json
import multiprocessing
import threading
import time
from dataclasses import dataclass
from typing import Any

PROCESSES, THREADS = 4, 25


@dataclass(frozen=True, slots=True)
class Shot:
    """One request: who asks and for what."""

    token: str
    path: str
    body: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Hit:
    """One answer: its status, its body and how long it took, in seconds."""

    status: int
    content_type: str
    body: dict[str, Any]
    seconds: float


def volley(port: int, shots: list[Shot]) -> list[Hit]:
    """All shots at once, from 4 processes of 25 threads each; the answers in the order of the shots."""
    spawned = multiprocessing.get_context("spawn")
    ready = spawned.Barrier(PROCESSES)
    shares = [shots[i::PROCESSES] for i in range(PROCESSES)]
    with spawned.Manager() as manager:
        hits = manager.dict()
        drivers = [spawned.Process(target=_drive, args=(port, shares[i], ready, hits, i)) for i in range(PROCESSES)]
        for driver in drivers:
            driver.start()
        for driver in drivers:
            driver.join(timeout=180)
        answers = [hits[i][j] for i in range(PROCESSES) for j in range(len(shares[i]))]
    places = [place for i in range(PROCESSES) for place in range(i, len(shots), PROCESSES)]
    return [hit for _, hit in sorted(zip(places, answers, strict=True), key=lambda pair: pair[0])]


def _drive(port: int, shots: list[Shot], ready: Any, hits: Any, number: int) -> None:
    gate = threading.Barrier(len(shots) + 1)
    answers: list[Hit | None] = [None] * len(shots)

    def fire(i: int) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        gate.wait()
        answers[i] = _ask(connection, shots[i])

    threads = [threading.Thread(target=fire, args=(i,)) for i in range(len(shots))]
    for thread in threads:
        thread.start()
    ready.wait()
    gate.wait()
    for thread in threads:
        thread.join()
    hits[number] = answers


def _ask(connection: http.client.HTTPConnection, shot: Shot) -> Hit:
    headers = {"Authorization": f"Bearer {shot.token}", "Content-Type": "application/json"}
    began = time.perf_counter()
    connection.request("POST", shot.path, json.dumps(shot.body), headers)
    response = connection.getresponse()
    text = response.read()
    return Hit(response.status, response.headers.get_content_type(), json.loads(text), time.perf_counter() - began)
