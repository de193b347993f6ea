"""How long the answers to requests with an Idempotency-Key are kept."""

from datetime import datetime, timedelta

from bookings.models import KeptAnswer

KEPT_FOR = timedelta(hours=24)


def forget_old_answers(now: datetime) -> None:
    """Deletes answers that no retry would get any more."""
    KeptAnswer.objects.filter(made_at__lte=now - KEPT_FOR).delete()
