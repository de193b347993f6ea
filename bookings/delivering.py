"""Delivering events to webhooks, beside the requests and beside the emails.

A receiver may take 15 seconds to answer nothing. So this work has a queue with a worker, or a
thread, of its own, and several deliveries are on their way at once, each to another webhook.
"""

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import structlog
from django.db import connections

from bookings import clock, door, outbox
from bookings.domain.standard_webhooks import header_fields
from bookings.inbound.posting import Answered, post
from bookings.models import OutboxMessage
from bookings.operations.deliveries import note_attempt

log = structlog.get_logger(__name__)

AT_ONCE = 4
"""How many deliveries are on their way at the same time."""
MOST_IN_A_ROUND = 200
"""How many one thread makes before it lets the next round begin."""
Posting = Callable[[str, Mapping[str, str], bytes], Answered]


def deliver_due(*, posting: Posting = post, at_once: int = AT_ONCE) -> int:
    """Delivers what is due, in `at_once` threads; returns how many attempts were made."""
    if not outbox.deliveries_wait(clock.now()):  # asked after every commit: only a read
        return 0
    if at_once == 1:
        return _deliver(posting)
    with ThreadPoolExecutor(at_once, thread_name_prefix="deliveries") as pool:
        return sum(pool.map(_in_a_thread, [posting] * at_once))


def _in_a_thread(posting: Posting) -> int:
    try:
        return _deliver(posting)
    except Exception:  # the other threads go on; what is leased comes back after two minutes
        log.exception("a round of deliveries failed")
        return 0
    finally:
        connections.close_all()


def _deliver(posting: Posting) -> int:
    """Delivers one row after the other, until none is due."""
    for made in range(MOST_IN_A_ROUND):
        delivery = outbox.claim_delivery(clock.now())
        if delivery is None:
            return made
        answered = _attempt(delivery, posting)
        now = clock.now()
        door.write(partial(note_attempt, delivery=delivery, answered=answered, now=now), now=now)
    return MOST_IN_A_ROUND


def _attempt(delivery: OutboxMessage, posting: Posting) -> Answered:
    """One attempt, signed now: the timestamp is the attempt's, the id and the body the event's."""
    now, body = clock.now(), delivery.body.encode()
    signing = delivery.hook.secrets_at(now)
    fields = header_fields(signing, delivery.message_id, int(now.timestamp()), body)
    return posting(delivery.hook.address, fields, body)
