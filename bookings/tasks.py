"""Work beside the requests: the outbox, and work that falls due.

Tasks take only ids and may run twice.

Due times are in the tables: beat looks every minute, and no task waits in a queue for its time.
"""

from datetime import datetime
from functools import partial

import structlog
from celery import shared_task
from django.conf import settings

from bookings import clock, delivering, door, letting_go, outbox, solving
from bookings.domain.errors import Refused
from bookings.inbound.fetching import fetch
from bookings.operations.asked_hours import close_answers
from bookings.operations.bringing_in import forget_old_files
from bookings.operations.busy import claim_calendar, keep_copy, note_problem
from bookings.operations.busy_reading import Fetching, fetch_copy
from bookings.operations.email_troubles import forget_troubles, tell_of_troubles
from bookings.operations.erasing import erase_due
from bookings.operations.exchanges import lapse_exchanges
from bookings.operations.follow_ups import ask_to_finish
from bookings.operations.minimums import decide_meetings
from bookings.operations.move_requests import close_unanswered
from bookings.operations.offers import lapse_offers
from bookings.operations.owed import lapse_owed
from bookings.operations.owed_reminders import remind_of_owed
from bookings.operations.proposed_times import lapse_proposals
from bookings.operations.queues import offer_free_places
from bookings.operations.webhooks import forget_old_secrets
from bookings.operations.zone_rules import keep_zone_rules
from bookings.queries.busy import calendars_due
from bookings.queries.privacy import erasures_due

log = structlog.get_logger(__name__)

SWEEP_SECONDS = 20.0
MOST_AT_ONCE = 20
"""How many calendars one round reads. Each takes seconds at most; the others wait for the next
round.
"""


@shared_task(name="bookings.tasks.drain_outbox")
def drain_outbox() -> int:
    """Sends due messages. Returns how many were sent."""
    return outbox.drain(clock.now)


@shared_task(name="bookings.tasks.enqueue_due")
def enqueue_due() -> None:
    """Does all work that has fallen due, except mail and busy calendars.

    Decides whether meetings run. Ends offers, proposed times and exchanges that nobody answered,
    closes the answers of plans, lets owed lessons lapse and reminds of those that soon will, offers
    free places, closes requests to move meetings that have begun, and asks about yesterday's
    meetings. Tells admins of email addresses that cannot be reached. Erases people whose erasure is
    due, and signing secrets that were replaced. Stores the zone rules by which people are told
    their hours. Each step finds its work in the tables and leaves none for a second run, so the
    task may run twice, late, or beside itself.
    """
    now = clock.now()
    door.write(lambda: decide_meetings(now=now), now=now)
    door.write(lambda: lapse_offers(now=now), now=now)
    door.write(lambda: lapse_proposals(now=now), now=now)
    door.write(lambda: lapse_exchanges(now=now), now=now)
    door.write(lambda: close_answers(now=now), now=now)
    door.write(lambda: lapse_owed(now=now), now=now)
    door.write(lambda: remind_of_owed(now=now), now=now)
    door.write(lambda: offer_free_places(now=now), now=now)
    door.write(lambda: close_unanswered(now=now), now=now)
    door.write(lambda: ask_to_finish(now=now), now=now)
    door.write(lambda: forget_old_secrets(now=now), now=now)
    forget_old_files(now)
    door.write(lambda: tell_of_troubles(now=now), now=now)
    door.write(lambda: forget_troubles(now=now), now=now)
    outbox.let_go(now)
    door.write(lambda: keep_zone_rules(now=now), now=now)
    for request_id in erasures_due(now):
        door.write(partial(erase_due, request_id=request_id, now=now), now=now)


@shared_task(name="bookings.tasks.let_go")
def let_go() -> bool:
    """Lets go of what is past its retention time: once a day, however often it is asked."""
    return letting_go.let_go_today(now=clock.now(), machine=clock.machine())


@shared_task(name="bookings.tasks.refresh_busy_calendars")
def refresh_busy_calendars() -> None:
    """Fetches the busy calendars that are due, one after the other."""
    for calendar_id in calendars_due(clock.now(), MOST_AT_ONCE):
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


@shared_task(name="bookings.tasks.solve_plans")
def solve_plans() -> int:
    """Solves the plans that wait, one after the other. Returns how many."""
    return solving.solve_plans()


@shared_task(name="bookings.tasks.deliver_events")
def deliver_events() -> int:
    """Delivers due events to webhooks. Returns how many attempts were made."""
    return delivering.deliver_due()


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

        # A third one: a solve takes minutes.
        planner = outbox.Sweeper(on_nudge=solve_plans, on_tick=solve_plans, seconds=SWEEP_SECONDS)

        # A fourth one, so that a program that does not answer delays no email.
        deliverer = outbox.Sweeper(
            on_nudge=deliver_events, on_tick=deliver_events, seconds=SWEEP_SECONDS
        )

        def wake() -> None:
            sweeper.wake()
            deliverer.wake()
            reader.wake()
            planner.wake()

        outbox.register_notifier(wake)
        wake()


def _tick() -> None:
    enqueue_due()
    drain_outbox()
    let_go()
