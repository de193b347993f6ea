"""How many emails a second one worker hands to a mail server on this machine."""

import multiprocessing
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Sent:
    """So many emails in so many seconds."""

    count: int
    seconds: float

    @property
    def rate(self) -> float:
        """Emails a second."""
        return self.count / self.seconds


@contextmanager
def mail_server() -> Iterator[int]:
    """The port of a mail server, in a process of its own, that takes everything."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe()
    process = context.Process(target=_serve, args=(there,), daemon=True)
    process.start()
    try:
        yield here.recv()
    finally:
        here.send("stop")
        process.join(timeout=10)


def _serve(parent: Any) -> None:
    from tests.races.faults.sink import Sink

    sink = Sink()
    sink.open()
    parent.send(sink.port)
    parent.recv()
    sink.close()


def drained(most: int, seconds: float) -> Sent:
    """Sends what is due as a worker does, one after another, for so many seconds."""
    from bookings import clock, outbox

    began, count = time.monotonic(), 0
    while count < most and time.monotonic() < began + seconds:
        sent = outbox.drain(clock.now, limit=10)
        if not sent:
            break
        count += sent
    return Sent(count, time.monotonic() - began)
