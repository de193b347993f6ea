"""What runs beside the requests: the outbox, and what falls due. Tasks take no more than ids and may run twice.

Time lives in the tables: beat asks every minute what is due, and nothing waits in a queue for its hour.
"""

from celery import shared_task
from django.conf import settings

from bookings import clock, door, outbox
from bookings.operations.waiting import lapse_offers

SWEEP_SECONDS = 20.0


@shared_task(name="bookings.tasks.drain_outbox")
def drain_outbox() -> int:
    """Sends what is due; how many left."""
    return outbox.drain(clock.now)


@shared_task(name="bookings.tasks.enqueue_due")
def enqueue_due() -> None:
    """Ends offers whose time to answer has passed, and empties old messages."""
    now = clock.now()
    door.write(lambda: lapse_offers(now=now), now=now)
    outbox.erase_old_bodies(now)


def ask_a_worker() -> None:
    """Tells a Celery worker that something was committed; does not wait for a broker that is away, since beat asks again."""
    drain_outbox.apply_async(retry=False)


def serve_outbox() -> None:
    """For a web process without a broker: its own thread does the work of worker and beat. Elsewhere it does nothing."""
    if settings.OUTBOX_THREAD:
        sweeper = outbox.Sweeper(on_nudge=drain_outbox, on_tick=_tick, seconds=SWEEP_SECONDS)
        outbox.register_notifier(sweeper.wake)
        sweeper.wake()


def _tick() -> None:
    enqueue_due()
    drain_outbox()
