"""From the secret of a service token to the token, and to the admin whose rights it has."""

from datetime import datetime

from accounts.models import User, digest
from bookings.models import ServiceToken

PREFIX = "levare_"
"""How the secret of a service token begins, so that nobody takes it for a person's token."""


def service_token_of(secret: str, *, now: datetime) -> ServiceToken | None:
    """The token with this secret, if it works now."""
    working = ServiceToken.objects.working(now).select_related("made_by")
    return working.filter(digest=digest(secret)).first()


def program_of(token: ServiceToken) -> User:
    """Who acts: the admin who made the token, with the token in `acts_through`."""
    user = token.made_by
    user.acts_through = token.pk
    return user


def is_program(user: User) -> bool:
    """Whether a program acts. It never reads notes, what a student wrote before, or health data."""
    return user.acts_through is not None
