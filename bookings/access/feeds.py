"""A person's own feeds."""

from accounts.models import User
from bookings.access.refusals import not_there
from bookings.models import Feed


def access_feed(user: User, feed_id: int) -> Feed:
    """This person's feed with this id. Refused("not-found")."""
    found = Feed.objects.of(user).not_revoked().filter(pk=feed_id).first()
    if found is None:
        raise not_there()
    return found
