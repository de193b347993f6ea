"""Deliveries to webhooks: rows of the outbox, of a class that is claimed apart from emails.

An email never waits behind a program that does not answer, and a program that fails holds up no
other.
"""

import json
import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from bookings.domain.events import TEST, Event
from bookings.domain.timeline import rfc3339
from bookings.models import OutboxMessage, OutboxQuerySet, Webhook
from bookings.models.prepared import prepared
from bookings.outbox.leasing import leased
from bookings.outbox.sending import ATTEMPTS, backed_off, wait

MOST_ASKED = timedelta(hours=24)
"""The longest wait that a receiver may ask for."""
State = OutboxMessage.State


def enqueue_events(events: Sequence[tuple[Event, int]], *, now: datetime) -> None:
    """Stores a delivery for each webhook that wants one of these events, each with the id of the
    thing it is about, in the caller's transaction. Two statements at most.

    A paused webhook misses what happens meanwhile.
    """
    hooks = [(pk, json.loads(kinds)) for pk, kinds in _kinds_wanted()] if events else []
    rows = []
    for event, thing_id in events:
        event_id = _new_id()
        wanted = [pk for pk, kinds in hooks if event.value in kinds]
        rows += [_delivery(pk, event_id, event.value, {"id": thing_id}, now) for pk in wanted]
    if rows:
        OutboxMessage.objects.bulk_create(rows)


@prepared
def _kinds_wanted() -> QuerySet[Webhook, Any]:
    return Webhook.objects.active().values_list("pk", "kinds")


def enqueue_test(hook: Webhook, *, now: datetime) -> OutboxMessage:
    """Stores a test delivery, whose `data` is the webhook's own id."""
    row = _delivery(hook.pk, _new_id(), TEST, {"id": hook.pk}, now)
    row.save()
    return row


def _new_id() -> str:
    """An identifier of one event, without a full stop (Standard Webhooks, "Signature scheme")."""
    return f"evt_{secrets.token_hex(16)}"


def _delivery(
    hook_id: int, event_id: str, kind: str, data: Mapping[str, int], now: datetime
) -> OutboxMessage:
    told = {"type": kind, "timestamp": rfc3339(now), "data": data}
    return OutboxMessage(
        webhook_id=hook_id,
        kind=kind,
        subject_key=f"webhook:{hook_id}",
        state_key=event_id,
        title="",
        body=json.dumps(told, separators=(",", ":")),
        message_id=event_id,
        made_at=now,
        due_at=now,
    )


def claim_delivery(now: datetime) -> OutboxMessage | None:
    """The next delivery that is due, leased for two minutes, with its webhook; None without one.

    A webhook has one delivery on its way at a time, and none while it waits after a failure.
    """
    on_its_way = OutboxMessage.objects.filter(
        webhook=OuterRef("webhook"), state=State.DUE, leased_until__gt=now
    )
    # PostgreSQL looks again at the row that it locks, but not at what the subquery has found, so
    # the row itself must say that nobody has it.
    free = Q(leased_until=None) | Q(leased_until__lte=now)
    for row in leased(_due(now).filter(free, ~Exists(on_its_way)), now, 1):
        return OutboxMessage.objects.select_related("webhook").get(pk=row.pk)
    return None


def deliveries_wait(now: datetime) -> bool:
    """Whether a delivery is due to a webhook that may be told now."""
    return _due(now).exists()


def _due(now: datetime) -> OutboxQuerySet:
    """Deliveries that are due to webhooks that neither are paused nor wait after a failure."""
    hooks = Webhook.objects.active().filter(Q(waits_until=None) | Q(waits_until__lte=now))
    rows = OutboxMessage.objects.deliveries().unsent().filter(due_at__lte=now)
    return rows.filter(webhook__in=hooks.order_by().values("pk"))


def mark_delivered(delivery: OutboxMessage, *, now: datetime) -> None:
    """The receiver has it. A receiver that answers is not waited for any more."""
    OutboxMessage.objects.filter(pk=delivery.pk).update(
        state=State.SENT, sent_at=now, waits_since=None, leased_until=None, last_error=""
    )
    Webhook.objects.filter(pk=delivery.hook.pk).update(failures=0, waits_until=None)


def mark_failed(
    delivery: OutboxMessage,
    problem: str,
    *,
    is_gone: bool,
    asked_to_wait: timedelta = timedelta(),
    now: datetime,
) -> Webhook:
    """Keeps the row for its next attempt, or gives it up; returns the webhook, paused or not.

    `is_gone` says that the receiver wants nothing any more: the webhook is paused at once. It is
    paused as well once as many attempts in a row have failed as one message has. A row that alone
    fails so often is given up, and the webhook goes on. `asked_to_wait` is the receiver's own word.
    """
    hook = Webhook.objects.select_for_update(no_key=True).get(pk=delivery.hook.pk)
    hook.failures += 1
    hook.waits_until = now + max(backed_off(hook.failures), min(asked_to_wait, MOST_ASKED))
    stops = is_gone or hook.failures >= ATTEMPTS
    if stops and hook.paused_at is None:
        hook.paused_at = now
        hook.paused_why = Webhook.Paused.GONE if is_gone else Webhook.Paused.GIVEN_UP
        hook.version += 1
    hook.save(update_fields=["failures", "waits_until", "paused_at", "paused_why", "version"])
    row = OutboxMessage.objects.filter(pk=delivery.pk, attempts=delivery.attempts, state=State.DUE)
    if stops or delivery.attempts >= ATTEMPTS:
        row.update(state=State.GIVEN_UP, leased_until=None, last_error=problem)
        return hook
    row.update(
        waits_since=Coalesce("waits_since", "due_at"),
        due_at=now + wait(delivery),
        leased_until=None,
        last_error=problem,
    )
    return hook
