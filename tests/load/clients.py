"""Clients over real HTTP: threads of one process of its own, each with one connection that is kept.

Nothing here touches Django. Each client sends its next request when it has its answer, so the rate
is what the server carries with so many at once, and no queue grows.
"""

import http.client
import itertools
import multiprocessing
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

PATIENCE = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One request, and the status that it must be answered with."""

    path: str
    method: str = "GET"
    body: str | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    status: int = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """What came of a run: answers as wanted, others, seconds in all, and the sorted seconds of each
    answer.
    """

    answers: int
    wrong: Mapping[str, int]
    seconds: float
    took: Sequence[float]

    @property
    def rate(self) -> float:
        """Answers a second."""
        return self.answers / self.seconds

    def ms(self, share: float) -> float:
        """The milliseconds within which this share of the answers came; 0 without any."""
        if not self.took:
            return 0.0
        return 1e3 * self.took[min(len(self.took) - 1, int(share * len(self.took)))]


def played(
    port: int, requests: Sequence[Request], *, seconds: float, clients: int, once: bool
) -> Carried:
    """So many clients for so many seconds, in a process of their own.

    `once` sends each request once, and ends before its time where there are no more.
    """
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe()
    process = context.Process(target=_play, args=(there, port, requests, seconds, clients, once))
    process.start()
    there.close()
    try:
        found: Carried = here.recv()
    finally:
        process.join(timeout=PATIENCE)
    return found


def _play(
    answer: "multiprocessing.connection.Connection[Carried, None]",
    port: int,
    requests: Sequence[Request],
    seconds: float,
    clients: int,
    once: bool,
) -> None:
    turn = iter(requests) if once else itertools.cycle(requests)
    lock, took, wrong = threading.Lock(), [], {}
    began = time.monotonic()

    def following() -> Iterator[Request]:
        while time.monotonic() < began + seconds:
            with lock:
                request = next(turn, None)
            if request is None:
                return
            yield request

    def client() -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
        for request in following():
            sent = time.monotonic()
            said = _sent(connection, request)
            lasted = time.monotonic() - sent
            with lock:
                if said == str(request.status):
                    took.append(lasted)
                else:
                    wrong[said] = wrong.get(said, 0) + 1
        connection.close()

    _all_at_once(client, clients)
    lasted = time.monotonic() - began
    answer.send(Carried(answers=len(took), wrong=wrong, seconds=lasted, took=sorted(took)))
    answer.close()


def _all_at_once(work: Callable[[], None], count: int) -> None:
    threads = [threading.Thread(target=work) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def _sent(connection: http.client.HTTPConnection, request: Request) -> str:
    """The status of the answer, or what went wrong. A kept connection that the server has closed
    meanwhile is opened again.
    """
    for _ in range(2):
        try:
            connection.request(
                request.method, request.path, body=request.body, headers=dict(request.headers)
            )
            answer = connection.getresponse()
            text = answer.read()
        except (http.client.HTTPException, ConnectionError) as error:
            connection.close()
            failed = type(error).__name__
            continue
        except TimeoutError:
            connection.close()
            return "no answer in time"
        if answer.status != request.status:
            return f"{answer.status} {text[:200].decode(errors='replace')}"
        return str(answer.status)
    return failed
