"""The record of who did what. A row is written in the transaction of the act."""

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
    """Writes one audit row: ids, a verb and field names, never values.

    `actor` is None where nobody acts, such as for an offer that lapses. `reason` is an admin's own
    sentence.
    """
    AuditRow.objects.create(
        at=now,
        actor=actor,
        verb=verb,
        thing=thing._meta.model_name or "",
        thing_id=thing.pk,
        fields=list(fields),
        reason=reason,
    )
