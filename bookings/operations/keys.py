"""How many keys one person may hold: each opens something and may be lost."""

from typing import Any

from django.db.models import QuerySet

from accounts.models import User
from bookings.domain.errors import Refused

MOST_TOKENS, MOST_FEEDS = 10, 20


def check_tokens(*, actor: User, tokens: QuerySet[Any]) -> None:
    """Refused("limit-reached") where `tokens`, the actor's, are as many as there may be."""
    _check(
        actor,
        tokens,
        MOST_TOKENS,
        "You have ten API tokens already. Sign out with one of them, or change your password, "
        "which ends them all.",
    )


def check_feeds(*, actor: User, feeds: QuerySet[Any]) -> None:
    """Refused("limit-reached") where `feeds`, the actor's, are as many as there may be."""
    _check(
        actor, feeds, MOST_FEEDS, "You have twenty calendar addresses already. Revoke one first."
    )


def _check(actor: User, held: QuerySet[Any], most: int, words: str) -> None:
    # Locked, so that two requests at once cannot both take the last.
    User.objects.select_for_update(no_key=True).get(pk=actor.pk)
    if held.count() >= most:
        raise Refused("limit-reached", words)
