"""Answers to requests with an Idempotency-Key, kept so that a retry gets the same bytes."""

from datetime import datetime, timedelta

from accounts.models import User
from bookings.models import KeptAnswer

KEPT_FOR = timedelta(hours=24)


def claim_answer(
    user: User, *, method: str, path: str, key: str, fingerprint: str, now: datetime
) -> KeptAnswer:
    """The locked row of this key. Where its status is 0, the caller answers the request.

    Waits for a first request with the same key that still runs.
    """
    named = {"user": user, "method": method, "path": path, "key": key}
    KeptAnswer.objects.bulk_create(
        [KeptAnswer(**named, fingerprint=fingerprint, made_at=now)], ignore_conflicts=True
    )
    row = KeptAnswer.objects.select_for_update(of=("self",)).get(**named)
    if row.made_at <= now - KEPT_FOR:
        row.status, row.fingerprint, row.made_at = 0, fingerprint, now
    return row


def forget_answers_to(user: User) -> None:
    """Deletes all answers kept for this person, so that a retry is judged again.

    A refusal can tell of a child without naming them, so no answer is looked into.
    """
    KeptAnswer.objects.filter(user=user).delete()
