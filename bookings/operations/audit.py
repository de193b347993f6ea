"""The record of who did what. A row is written in the transaction of the act."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db.models import Model

from accounts.models import User
from bookings import outbox
from bookings.domain.events import event_of
from bookings.models import AuditReason, AuditRow


def record(
    *,
    actor: User | None,
    verb: str,
    thing: Model,
    now: datetime,
    fields: Iterable[str] = (),
    reason: str = "",
) -> None:
    """Writes one audit row: ids, a verb and field names, never values. It tells webhooks of it.

    `actor` is None where nobody acts, such as for an offer that lapses. `reason` is an admin's own
    sentence, in a row of its own that can be erased.
    """
    row = _row(actor, verb, thing, now, tuple(fields))
    row.save()
    if reason:
        AuditReason.objects.create(row=row, text=reason)
    _tell([row], now)


def record_all(*, actor: User, verb: str, things: Sequence[Model], now: datetime) -> None:
    """One row for each of these things, as `record` writes it, in few statements."""
    rows = [_row(actor, verb, thing, now) for thing in things]
    AuditRow.objects.bulk_create(rows)
    _tell(rows, now)


def _row(
    actor: User | None, verb: str, thing: Model, now: datetime, fields: Sequence[str] = ()
) -> AuditRow:
    return AuditRow(
        at=now,
        actor=actor,
        token_id=actor.acts_through if actor is not None else None,
        verb=verb,
        thing=thing._meta.model_name or "",
        thing_id=thing.pk,
        fields=list(fields),
    )


def _tell(rows: Sequence[AuditRow], now: datetime) -> None:
    events = [(event_of(row.verb, row.thing), row.thing_id) for row in rows]
    outbox.enqueue_events([(event, pk) for event, pk in events if event is not None], now=now)
