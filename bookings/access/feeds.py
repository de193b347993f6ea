"""One's own calendar subscriptions."""

from django.db.models import QuerySet

from accounts.models import User
from bookings.access.refusals import not_there
from bookings.models import Feed


def feeds_of(user: User) -> QuerySet[Feed]:
    """One's own feeds that have not been revoked."""
    rows = Feed.objects.filter(owner=user, revoked_at__isnull=True)
    return rows.select_related("instructor__user")


def access_feed(user: User, feed_id: int) -> Feed:
    """One's own subscription."""
    found = Feed.objects.filter(pk=feed_id, owner=user, revoked_at__isnull=True).first()
    if found is None:
        raise not_there()
    return found
