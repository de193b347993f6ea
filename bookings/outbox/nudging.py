"""Nudges: after a commit one thread tells the broker, or drains the outbox where there is none."""

import atexit
import threading
import time
from collections.abc import Callable
from contextvars import Context, copy_context
from queue import SimpleQueue

import structlog
from django.db import close_old_connections, connections

log = structlog.get_logger(__name__)

_notifier: Callable[[], object] | None = None


def register_notifier(notify: Callable[[], object] | None) -> None:
    """Sets what `nudge` calls. None for nothing, in a command or a test that drains by itself."""
    global _notifier
    _notifier = notify


def nudge() -> None:
    """Tells the notifier that something was committed. It never raises.

    Without the nudge the next sweep finds the message.
    """
    if _notifier is None:
        return
    try:
        _notifier()
    except Exception as error:  # a broker that is away must not fail a request that has succeeded
        log.warning("the outbox could not be nudged", error=type(error).__name__)


class Messenger:
    """One daemon thread that passes nudges on, so that no request waits for a broker.

    Where one cannot be passed on, it is dropped with all that wait: a worker's own clock finds what
    is due. A nudge carries its request's id. A web server may fork after the thread has begun; the
    first nudge in the child process starts another.
    """

    def __init__(self, pass_on: Callable[[], object]) -> None:
        self._pass_on = pass_on
        self._standing: SimpleQueue[Context] = SimpleQueue()
        self._starting = threading.Lock()
        self._thread: threading.Thread | None = None

    def tell(self) -> None:
        """Queues one nudge and returns at once."""
        self._standing.put(copy_context())
        with self._starting:
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(target=self._run, name="messenger", daemon=True)
                self._thread.start()

    def _run(self) -> None:
        while True:
            context = self._standing.get()
            try:
                context.run(self._pass_on)
            except Exception as error:  # a broker and its network may raise anything
                log.warning("the outbox could not be nudged", error=type(error).__name__)
                while not self._standing.empty():
                    self._standing.get()


class Sweeper:
    """One daemon thread: it calls `on_nudge` after a nudge, `on_tick` first and every `seconds`.

    A web server may fork after the thread has begun; the first nudge in the child process starts
    another. Claims are leased, so any number of threads may run.
    """

    def __init__(
        self, *, on_nudge: Callable[[], object], on_tick: Callable[[], object], seconds: float
    ) -> None:
        self._on_nudge, self._on_tick, self._seconds = on_nudge, on_tick, seconds
        self._woken, self._starting = threading.Event(), threading.Lock()
        self._stopping = False
        self._thread: threading.Thread | None = None

    def wake(self) -> None:
        """Asks for a round now. Starts the thread where it does not run."""
        self._woken.set()
        with self._starting:
            if not self._stopping and (self._thread is None or not self._thread.is_alive()):
                self._thread = threading.Thread(target=self._run, name="outbox", daemon=True)
                self._thread.start()
                # Exit kills a daemon thread. This gives it time to mark what it has just sent.
                atexit.register(self.stop)

    def stop(self, wait: float = 5.0) -> None:
        """Ends the thread after its present message. Waits `wait` seconds at most."""
        self._stopping = True
        self._woken.set()
        if self._thread is not None and self._thread.is_alive():
            self._thread.join(wait)

    def _run(self) -> None:
        next_tick = 0.0
        while not self._stopping:
            self._woken.wait(max(0.0, next_tick - time.monotonic()))
            self._woken.clear()
            if self._stopping:
                break
            # A tick that is due comes before a nudge, or many nudges could keep it away.
            act = self._on_nudge
            if time.monotonic() >= next_tick:
                act, next_tick = self._on_tick, time.monotonic() + self._seconds
            close_old_connections()
            try:
                act()
            except Exception:  # the thread outlives a database that is away for a while
                log.exception("a round of the outbox failed")
            finally:
                connections.close_all()
