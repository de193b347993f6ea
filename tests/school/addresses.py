"""A new email address, noted by an admin and confirmed by the link that was sent to it."""

import re
from datetime import datetime

from accounts.models import User
from bookings.models import OutboxMessage
from bookings.operations.addresses import ask_new_address, confirm_new_address


def secret_to(email: str) -> str:
    """The secret of the last link that asks this address to be confirmed."""
    asked = OutboxMessage.objects.filter(kind="new-address", to_address=email).latest("pk")
    found = re.search(r"/new-address/([\w-]+)/", asked.body)
    assert found is not None
    return found[1]


def change_address(*, actor: User, user: User, email: str, now: datetime) -> User:
    """The account with its new address."""
    change = ask_new_address(actor=actor, user=user, email=email, now=now)
    return confirm_new_address(secret=secret_to(change.email), now=now)
