"""A person's calendar addresses: opened, renewed, revoked. The secret is shown once; only its digest is kept."""

from datetime import datetime

from accounts.models import User, digest, new_secret
from bookings.domain.errors import Refused
from bookings.models import Feed
from bookings.operations.audit import record


def open_feed(*, actor: User, label: str, now: datetime) -> tuple[Feed, str]:
    """A new feed of the actor's own meetings, and the secret of its address."""
    label = label.strip()
    if not label or len(label) > 60:
        raise Refused("invalid", "Give the calendar a name of up to 60 characters, such as Phone.")
    secret = new_secret()
    feed = Feed.objects.create(owner=actor, label=label, secret_digest=digest(secret), revised_at=now, opened_at=now)
    record(actor=actor, verb="opened feed", thing=feed, now=now)
    return feed, secret


def renew_feed(*, actor: User, feed: Feed, now: datetime) -> tuple[Feed, str]:
    """The same feed at a new address; the old one is nothing from now on."""
    current = _open(feed)
    secret = new_secret()
    current.secret_digest = digest(secret)
    current.save(update_fields=["secret_digest"])
    record(actor=actor, verb="renewed feed", thing=current, fields=["secret_digest"], now=now)
    return current, secret


def revoke_feed(*, actor: User, feed: Feed, now: datetime) -> Feed:
    """The address is nothing from now on."""
    current = _open(feed)
    current.revoked_at = now
    current.save(update_fields=["revoked_at"])
    record(actor=actor, verb="revoked feed", thing=current, fields=["revoked_at"], now=now)
    return current


def _open(feed: Feed) -> Feed:
    current = Feed.objects.select_for_update(no_key=True).get(pk=feed.pk)
    if current.revoked_at is not None:
        raise Refused("already-ended", "This calendar address has been revoked; open a new one.")
    return current
