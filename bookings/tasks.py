"""What runs beside the requests: the outbox, and what falls due. Tasks take no more than ids and may run twice.

Time lives in the tables: beat asks every minute what is due, and nothing waits in a queue for its hour.
"""

from celery import shared_task
from django.conf import settings

from bookings import clock, door, outbox
from bookings.operations.following import ask_to_finish
from bookings.operations.keeping import forget_old_answers
from bookings.operations.queues import offer_free_places
from bookings.operations.waiting import lapse_offers

SWEEP_SECONDS = 20.0


@shared_task(name="bookings.tasks.drain_outbox")
def drain_outbox() -> int:
    """Sends what is due; how many left."""
    return outbox.drain(clock.now)


@shared_task(name="bookings.tasks.enqueue_due")
def enqueue_due() -> None:
    """Ends offers whose time to answer has passed, offers what stands free, asks after yesterday's meetings; empties what is old.

    Each step finds in the tables what is due and leaves nothing for a second run to do, so it may run twice, late, or beside itself.
    """
    now = clock.now()
    door.write(lambda: lapse_offers(now=now), now=now)
    door.write(lambda: offer_free_places(now=now), now=now)
    door.write(lambda: ask_to_finish(now=now), now=now)
    outbox.erase_old_bodies(now)
    forget_old_answers(now)


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
