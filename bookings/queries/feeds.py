"""A person's calendar addresses."""

from django.db.models import QuerySet

from accounts.models import User
from bookings.models import Feed


def feeds_of(user: User) -> QuerySet[Feed]:
    """Those that work, the oldest first."""
    rows = Feed.objects.of(user).not_revoked()
    return rows.select_related("meeting__offering", "instructor__user")
