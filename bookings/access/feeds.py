"""One's own calendar subscriptions."""

from accounts.models import User
from bookings.access.refusals import not_there
from bookings.models import Feed


def access_feed(user: User, feed_id: int) -> Feed:
    """One's own subscription."""
    found = Feed.objects.filter(pk=feed_id, owner=user, revoked_at__isnull=True).first()
    if found is None:
        raise not_there()
    return found
