"""The daily work of letting go: every kind in batches, each in a transaction of its own.

It may be killed, run twice and beside itself: what is due is found in the tables.
"""

from collections.abc import Iterator
from datetime import datetime
from functools import partial

import structlog

from bookings import door
from bookings.operations.letting_go import begin_day, end_day, let_go
from bookings.queries.retention import KINDS, Kind

log = structlog.get_logger(__name__)

MOST_BATCHES = 100
"""How many batches one look takes, so that email does not wait; the next look goes on."""


def let_go_today(*, now: datetime, machine: datetime) -> bool:
    """Does today's work, or a part of it. Returns whether it is done for today.

    `machine` is the machine's clock, with which libraries stamp their rows. A kind that fails is
    logged, and the others go on.
    """
    if not door.write(partial(begin_day, now=now), now=now):
        return True
    left = MOST_BATCHES
    for kind in KINDS:
        try:
            for _ in _batches(kind, now, machine):
                left -= 1
                if left == 0:
                    return False
        except Exception:  # one kind must not keep all others
            log.exception("a kind of data could not be let go", kind=kind.code)
    door.write(partial(end_day, now=now), now=now)
    return True


def let_go_now(*, now: datetime, machine: datetime) -> Iterator[tuple[Kind, int]]:
    """All that is due, whether or not today's work was done: each kind with its number of rows."""
    door.write(partial(begin_day, now=now), now=now)
    for kind in KINDS:
        yield kind, sum(_batches(kind, now, machine))
    door.write(partial(end_day, now=now), now=now)


def _batches(kind: Kind, now: datetime, machine: datetime) -> Iterator[int]:
    """Batch after batch of one kind, with the number of rows of each."""
    until = kind.until(now=now, machine=machine)
    while gone := door.write(partial(let_go, kind=kind, until=until, now=now), now=now):
        yield gone
