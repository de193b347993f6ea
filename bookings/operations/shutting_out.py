"""Shutting out somebody whose account is deactivated: no way in is left for later."""

from datetime import datetime

from accounts.models import User
from accounts.sessions import end_sessions_and_tokens
from bookings.operations.subscriptions import revoke_feed


def shut_out(*, actor: User | None, user: User, now: datetime) -> None:
    """Ends this person's sessions and tokens and revokes their feeds, for good.

    Activating the account again brings none of them back.
    """
    end_sessions_and_tokens(user)
    for feed in user.feeds.filter(revoked_at__isnull=True).order_by("pk"):
        revoke_feed(actor=actor, feed=feed, now=now)
