"""The write door: the one transaction around one operation, its retries, and what follows a refusal.

Interfaces open it; operations join it. Nothing is sent inside: the outbox is nudged after the commit.
"""

import random
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import TypeVar

import structlog
from django.db import IntegrityError, InterfaceError, OperationalError, connection, transaction
from django.dispatch import Signal

from bookings import outbox
from bookings.domain.errors import Refused
from bookings.models.guards import as_refusal
from bookings.operations.aftermath import follow_up, sets_something_off

log = structlog.get_logger(__name__)

T = TypeVar("T")
RETRIES = 3
refused = Signal()  # for whoever counts: code, the refusal's
retried = Signal()
_writers = threading.RLock()
_PATIENCE = 20  # seconds, as SQLite itself waits for a writer of another process
_TRY_AGAIN = {"40001", "40P01"}  # serialization_failure, deadlock_detected: PostgreSQL's appendix A
# Busy, read-only, input or output error, full, cannot open, protocol: https://www.sqlite.org/rescode.html. The rest is our mistake.
_SQLITE_AWAY = {5, 8, 10, 13, 14, 15}


def write(act: Callable[[], T], *, now: datetime) -> T:
    """Runs `act` in one transaction and returns what it returns.

    Raises Refused with nothing written, whether a rule or a broken guard spoke; what a refusal itself sets off (a request
    for consent) is written in a transaction of its own. "busy" after three lost retries.
    """
    try:
        answer = _with_retries(act)
    except Refused as error:
        refusal = error  # outlives the handler's own name inside the closure
        refused.send_robust(sender=None, code=refusal.code)
        if sets_something_off(refusal) and _with_retries(lambda: follow_up(refusal, now=now)):
            outbox.nudge()
        raise
    outbox.nudge()
    return answer


def _with_retries(act: Callable[[], T]) -> T:
    for attempt in range(RETRIES + 1):
        try:
            with _turn(), transaction.atomic():
                return act()
        except IntegrityError as error:
            refusal = as_refusal(error)
            if refusal is None:
                raise
            raise refusal from error
        except OperationalError as error:
            if "database is locked" in str(error):
                break  # SQLite has already waited its whole time-out
            if getattr(error.__cause__, "sqlstate", None) not in _TRY_AGAIN:
                raise
            if attempt < RETRIES:  # jitter, so that two that met do not meet again
                retried.send_robust(sender=None)
                time.sleep(random.uniform(0.5, 1.5) * 0.02 * 2**attempt)  # noqa: S311  not a secret
    raise _busy()


def _busy() -> Refused:
    return Refused(
        "busy", "Many people are booking at this moment. Try again in a few seconds.", retry_after=2
    )


@contextmanager
def _turn() -> Iterator[None]:
    """SQLite has one writer, and those who wait for it look again ever more seldom: the threads of one process take turns instead."""
    if connection.vendor != "sqlite":
        yield
    elif _writers.acquire(timeout=_PATIENCE):
        try:
            yield
        finally:
            _writers.release()
    else:
        raise _busy()


def outage(error: Exception) -> Refused | None:
    """The refusal of a request that met a database which is away, starting or full; None where `error` is something else.

    For interfaces: it may come from a read as well as from `write`, and after it nobody knows whether a commit was heard,
    so a retry with the same Idempotency-Key is the way to find out.
    """
    cause = error.__cause__
    if isinstance(cause, sqlite3.Error):
        is_away = getattr(cause, "sqlite_errorcode", 0) & 0xFF in _SQLITE_AWAY
    else:
        is_away = isinstance(error, (OperationalError, InterfaceError))
    if not is_away:
        return None
    log.error("the database does not serve", error=type(cause or error).__name__)
    return Refused(
        "busy",
        "The school's records cannot be reached at this moment. Try again in a few seconds.",
        retry_after=5,
    )
