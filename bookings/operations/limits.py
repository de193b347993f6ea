"""How many API tokens and calendar addresses one person may hold."""

from typing import Any

from django.db.models import QuerySet

from accounts.models import User
from bookings.domain.errors import Refused

MOST_TOKENS, MOST_FEEDS = 10, 20


def check_tokens(*, actor: User, tokens: QuerySet[Any]) -> None:
    """Refused("limit-reached") where the actor may not have another API token."""
    _check(
        actor,
        tokens,
        MOST_TOKENS,
        "You have ten API tokens already. Sign out with one of them, or change your password, "
        "which ends them all.",
    )


def check_feeds(*, actor: User, feeds: QuerySet[Any]) -> None:
    """Refused("limit-reached") where the actor may not open another calendar address."""
    _check(
        actor, feeds, MOST_FEEDS, "You have twenty calendar addresses already. Revoke one first."
    )


def _check(actor: User, held: QuerySet[Any], most: int, words: str) -> None:
    # The lock keeps two simultaneous requests from both taking the last one.
    User.objects.select_for_update(no_key=True).get(pk=actor.pk)
    if held.count() >= most:
        raise Refused("limit-reached", words)
