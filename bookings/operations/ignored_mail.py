"""Counts emails that were ignored, by day and reason. Nothing else of them is kept."""

from datetime import datetime

from django.db.models import F

from bookings.models import IgnoredMail


def count_ignored(reason: str, *, now: datetime) -> None:
    """Counts one more email of today (UTC) that was ignored, or not written, for this reason."""
    row, _ = IgnoredMail.objects.get_or_create(day=now.date(), reason=reason)
    IgnoredMail.objects.filter(pk=row.pk).update(count=F("count") + 1)
