"""What nothing follows from is counted by day and reason; nothing of it is kept."""

from datetime import datetime

from django.db.models import F

from bookings.models import IgnoredMail


def count_ignored(reason: str, *, now: datetime) -> None:
    """One more mail of today that was ignored, or not written, for that reason."""
    row, _ = IgnoredMail.objects.get_or_create(day=now.date(), reason=reason)
    IgnoredMail.objects.filter(pk=row.pk).update(count=F("count") + 1)
