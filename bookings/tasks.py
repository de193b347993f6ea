"""Work beside the requests: the outbox, and work that falls due.

Tasks take only ids and may run twice.

Due times are in the tables: beat looks every minute, and no task waits in a queue for its time.
"""

from datetime import datetime, timedelta

import structlog
from celery import shared_task
from django.conf import settings

from accounts.sessions import forget_expired
from bookings import clock, door, outbox
from bookings.domain.errors import Refused
from bookings.inbound.fetching import fetch
from bookings.operations.busy import claim_calendar, forget_past, keep_copy, note_problem
from bookings.operations.busy_reading import Fetching, fetch_copy
from bookings.operations.follow_ups import ask_to_finish
from bookings.operations.kept_answers import forget_old_answers
from bookings.operations.move_requests import close_unanswered
from bookings.operations.offers import lapse_offers
from bookings.operations.proposed_times import lapse_proposals
from bookings.operations.queues import offer_free_places
from bookings.operations.zone_rules import keep_zone_rules
from bookings.queries.busy import calendars_due

log = structlog.get_logger(__name__)

SWEEP_SECONDS = 20.0
MOST_AT_ONCE = 20
"""How many calendars one round reads. Each takes seconds at most; the others wait for the next
round.
"""
KEPT_PAST = timedelta(days=2)


@shared_task(name="bookings.tasks.drain_outbox")
def drain_outbox() -> int:
    """Sends due messages. Returns how many were sent."""
    return outbox.drain(clock.now)


@shared_task(name="bookings.tasks.enqueue_due")
def enqueue_due() -> None:
    """Does all work that has fallen due, except mail and busy calendars.

    Ends offers and proposed times that nobody answered, offers free places, closes requests to move
    meetings that have begun, and asks about yesterday's meetings. Erases old bodies of emails, old
    kept answers, expired sessions and tokens. Stores the zone rules by which people are told their
    hours. Each step finds its work in the tables and leaves none for a second run, so the task may
    run twice, late, or beside itself.
    """
    now = clock.now()
    door.write(lambda: lapse_offers(now=now), now=now)
    door.write(lambda: lapse_proposals(now=now), now=now)
    door.write(lambda: offer_free_places(now=now), now=now)
    door.write(lambda: close_unanswered(now=now), now=now)
    door.write(lambda: ask_to_finish(now=now), now=now)
    outbox.erase_old_bodies(now)
    forget_old_answers(now)
    door.write(lambda: forget_expired(now=clock.machine()), now=now)
    door.write(lambda: keep_zone_rules(now=now), now=now)


@shared_task(name="bookings.tasks.refresh_busy_calendars")
def refresh_busy_calendars() -> None:
    """Fetches the busy calendars that are due, one after the other, and deletes past busy time."""
    now = clock.now()
    door.write(lambda: forget_past(before=now - KEPT_PAST), now=now)
    for calendar_id in calendars_due(now, MOST_AT_ONCE):
        try:
            refresh_calendar(calendar_id, clock.now())
        except Exception:  # one failing calendar does not hold up the others
            log.exception("a busy calendar could not be read", calendar=calendar_id)


def refresh_calendar(calendar_id: int, now: datetime, *, fetching: Fetching = fetch) -> None:
    """Fetches and expands one due calendar outside any transaction; does nothing if another process
    has taken it.
    """
    calendar = door.write(lambda: claim_calendar(calendar_id=calendar_id, now=now), now=now)
    if calendar is None:
        return
    try:
        copy = fetch_copy(calendar, now, fetching)
    except Refused as refusal:
        problem = refusal  # outlives the except clause, inside the lambda
        door.write(lambda: note_problem(calendar_id=calendar_id, refusal=problem, now=now), now=now)
    else:
        door.write(lambda: keep_copy(calendar_id=calendar_id, copy=copy, now=now), now=now)


_messenger = outbox.Messenger(lambda: drain_outbox.apply_async(retry=False))


def ask_a_worker() -> None:
    """Tells a Celery worker that something was committed.

    Returns at once, whether or not a broker answers.
    """
    _messenger.tell()


def serve_outbox() -> None:
    """Without a broker, starts a thread that does the work of worker and beat; else does
    nothing.
    """
    if settings.OUTBOX_THREAD:
        sweeper = outbox.Sweeper(on_nudge=drain_outbox, on_tick=_tick, seconds=SWEEP_SECONDS)
        # A second thread, so that a slow host does not delay email. A nudge only keeps it alive:
        # reading calendars writes too, so it would nudge itself for ever.
        reader = outbox.Sweeper(
            on_nudge=lambda: None, on_tick=refresh_busy_calendars, seconds=SWEEP_SECONDS
        )

        def wake() -> None:
            sweeper.wake()
            reader.wake()

        outbox.register_notifier(wake)
        wake()


def _tick() -> None:
    enqueue_due()
    drain_outbox()
