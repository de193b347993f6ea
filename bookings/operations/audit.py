"""Who did what, in the transaction that does it: ids, verbs and field names, never values."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Model

from accounts.models import User
from bookings.models import AuditRow


def record(
    *,
    actor: User | None,
    verb: str,
    thing: Model,
    now: datetime,
    fields: Iterable[str] = (),
    reason: str = "",
) -> None:
    """One row. `actor` is None where the product itself acts (an offer lapses); `reason` is an admin's own sentence."""
    AuditRow.objects.create(
        at=now,
        actor=actor,
        verb=verb,
        thing=thing._meta.model_name or "",
        thing_id=thing.pk,
        fields=list(fields),
        reason=reason,
    )
