"""The write door: one transaction around one operation, and its retries.

Interfaces open it and operations join it. Nothing is sent inside; the outbox is nudged after the
commit.
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
from bookings.operations.consents import ask_for_consent

log = structlog.get_logger(__name__)

T = TypeVar("T")
RETRIES = 3
refused = Signal()
"""Sent with the `code` of every refusal. The metrics count it."""
retried = Signal()
"""Sent before every retry. The metrics count it."""
_writers = threading.RLock()
_PATIENCE_SECONDS = 20  # as long as SQLite waits for a writer in another process
_TRY_AGAIN = {"40001", "40P01"}  # serialization_failure, deadlock_detected: PostgreSQL's appendix A
# Busy, read-only, input or output error, full, cannot open, protocol. Source:
# https://www.sqlite.org/rescode.html. Any other code is a fault of ours.
_SQLITE_AWAY = {5, 8, 10, 13, 14, 15}


def write(act: Callable[[], T], *, now: datetime) -> T:
    """Runs `act` in one transaction and returns its result.

    Raises Refused, with nothing written, where a rule refuses or a guard is broken; "busy" after
    three retries. Where consent is missing, the guardians are asked for it in a second transaction.
    """
    try:
        result = _with_retries(act)
    except Refused as refusal:
        refused.send_robust(sender=None, code=refusal.code)
        if refusal.code == "consent-missing":
            _ask_for_consent(refusal.data["student"], now)
        raise
    outbox.nudge()
    return result


def rehearse(act: Callable[[], T]) -> T:
    """Runs `act` as `write` does and takes everything back: what it returns is what it would do.

    Raises Refused as `write`; nobody is asked for a consent.
    """

    def taken_back() -> T:
        result = act()
        transaction.set_rollback(True)
        return result

    return _with_retries(taken_back)


def _ask_for_consent(student_id: int, now: datetime) -> None:
    if _with_retries(lambda: ask_for_consent(student_id=student_id, now=now)):
        outbox.nudge()


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
                break  # SQLite has already waited as long as it may
            if getattr(error.__cause__, "sqlstate", None) not in _TRY_AGAIN:
                raise
            if attempt < RETRIES:  # jitter, so that two requests do not meet a second time
                retried.send_robust(sender=None)
                time.sleep(random.uniform(0.5, 1.5) * 0.02 * 2**attempt)  # noqa: S311  not a secret
    raise _busy()


def _busy() -> Refused:
    return Refused(
        "busy", "Many people are booking at this moment. Try again in a few seconds.", retry_after=2
    )


@contextmanager
def _turn() -> Iterator[None]:
    """Lets the threads of one process write in turn on SQLite, which has one writer.

    SQLite itself would let a waiting thread look again ever more seldom.
    """
    if connection.vendor != "sqlite":
        yield
    elif _writers.acquire(timeout=_PATIENCE_SECONDS):
        try:
            yield
        finally:
            _writers.release()
    else:
        raise _busy()


def outage(error: Exception) -> Refused | None:
    """The refusal where the database is away, starting or full; None where `error` is another.

    A read may raise such an error as well as `write`, so interfaces call this. Nobody knows whether
    the commit has reached the database: a retry with the same Idempotency-Key finds out.
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
