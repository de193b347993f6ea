"""Letting go of rows whose retention time is over: one batch a transaction."""

from datetime import datetime

from bookings.models import Booking, RetentionRun
from bookings.queries.data_map import emptied
from bookings.queries.retention import Kind

AT_ONCE = 200
"""Rows of a batch: a request waits for no more than these."""


def begin_day(*, now: datetime) -> bool:
    """Whether today's work is still to be done; the first to ask begins it."""
    run, _ = RetentionRun.objects.get_or_create(day=now.date(), defaults={"begun_at": now})
    return run.ended_at is None


def let_go(*, kind: Kind, until: datetime, now: datetime) -> int:
    """Lets go of the next batch of a kind; returns how many rows, 0 where nothing is left.

    The day's row is locked first, so two workers take turns and each row is counted once. A row is
    looked at again in the statement that changes it: what was written meanwhile stays.
    """
    run = RetentionRun.objects.select_for_update(no_key=True).get(day=now.date())
    ids = list(kind.rows(until).order_by("pk").values_list("pk", flat=True)[:AT_ONCE])
    if not ids:
        return 0
    rows = kind.rows(until).filter(pk__in=ids).order_by()
    if kind.empties:
        rows.update(**emptied(kind.empties))
    else:
        if kind.named_by:
            Booking.objects.filter(**{f"{kind.named_by}__in": ids}).update(**{kind.named_by: None})
        rows.delete()
    run.gone = {**run.gone, kind.code: run.gone.get(kind.code, 0) + len(ids)}
    run.save(update_fields=["gone"])
    return len(ids)


def end_day(*, now: datetime) -> None:
    """Today's work is done."""
    RetentionRun.objects.filter(day=now.date()).update(ended_at=now)
