"""Leases: a row that is being sent belongs to one worker, until its lease is over."""

from datetime import datetime, timedelta
from typing import Any

from django.db import connection, transaction
from django.db.models import F, QuerySet

from bookings.models import OutboxMessage, OutboxQuerySet

LEASE = timedelta(minutes=2)


def leased(ready: OutboxQuerySet, now: datetime, limit: int) -> list[OutboxMessage]:
    """Up to `limit` of these rows, leased for two minutes, each with one attempt more."""
    leased_until = now + LEASE
    if connection.features.has_select_for_update_skip_locked:
        with transaction.atomic():
            ids = list(
                ready.select_for_update(skip_locked=True, of=("self",)).values_list(
                    "pk", flat=True
                )[:limit]
            )
            OutboxMessage.objects.filter(pk__in=ids).update(
                leased_until=leased_until, attempts=F("attempts") + 1
            )
    else:
        ids = _claim_at_once(ready.values("pk")[:limit], leased_until)
    return list(OutboxMessage.objects.filter(pk__in=ids).select_related("recipient")) if ids else []


def _claim_at_once(ready: QuerySet[OutboxMessage, Any], leased_until: datetime) -> list[int]:
    """The ids that one UPDATE ... RETURNING has chosen and leased."""
    chosen, values = ready.query.sql_with_params()
    table = connection.ops.quote_name(OutboxMessage._meta.db_table)
    lease = connection.ops.adapt_datetimefield_value(leased_until)
    with connection.cursor() as cursor:
        cursor.execute(
            # No input is in this text.
            f"UPDATE {table} SET leased_until = %s, attempts = attempts + 1 "  # noqa: S608
            f"WHERE id IN ({chosen}) RETURNING id",
            [lease, *values],
        )
        return [row[0] for row in cursor.fetchall()]
