"""A person's calendar addresses: opened, renewed, revoked. The secret is shown once; only its digest is kept."""

from datetime import datetime, timedelta
from uuid import UUID, uuid4

from accounts.models import Instructor, User, digest, new_secret
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import FeedKind
from bookings.models import Feed, Meeting
from bookings.operations.audit import record
from bookings.operations.keys import check_feeds


def open_feed(
    *,
    actor: User,
    label: str,
    meeting: Meeting | None = None,
    instructor: Instructor | None = None,
    names_children: bool = False,
    uid: UUID | None = None,
    now: datetime,
) -> tuple[Feed, str]:
    """A new feed, and the secret of its address: of the actor's own meetings; of one `meeting`'s places; or of when `instructor` is taken.

    Whether the actor may see that meeting's roster or that instructor's time is for the caller to ask, and is asked again at
    every fetch. Children's names are shown where `names_children` says so, and only in a feed of one's own meetings.
    Refused("already-done") where the actor has opened one with this `uid`: the same form sent twice opens one.
    """
    label = label.strip()
    if not label or len(label) > 60:
        raise Refused("invalid", "Give the calendar a name of up to 60 characters, such as Phone.")
    kind = FeedKind.ROSTER if meeting else FeedKind.FREE_BUSY if instructor else FeedKind.MEETINGS
    if (meeting and instructor) or (names_children and kind is not FeedKind.MEETINGS):
        raise Refused(
            "invalid",
            "A calendar shows one thing: your own meetings, one meeting's roster, or when an instructor is busy.",
            field="names_children" if names_children else "meeting",
        )
    own, uid = Feed.objects.filter(owner=actor), uid or uuid4()
    check_feeds(actor=actor, feeds=own.filter(revoked_at__isnull=True).exclude(uid=uid))
    if own.filter(uid=uid).exists():
        raise Refused("already-done", "This calendar address has been opened already.")
    secret = new_secret()
    feed = Feed.objects.create(
        owner=actor,
        label=label,
        kind=kind,
        meeting=meeting,
        instructor=instructor,
        names_children=names_children,
        uid=uid,
        secret_digest=digest(secret),
        revised_at=now,
        opened_at=now,
    )
    record(actor=actor, verb="opened feed", thing=feed, now=now)
    return feed, secret


def renew_feed(
    *, actor: User, feed: Feed, version: int | None = None, now: datetime
) -> tuple[Feed, str]:
    """The same feed at a new address; the old one is nothing from now on.

    Refused("stale") where it is not the version the caller read: of two who renew it, the second would undo what the first was shown.
    """
    current = _open(feed, version)
    secret = new_secret()
    current.secret_digest = digest(secret)
    current.version += 1
    current.save(update_fields=["secret_digest", "version"])
    record(actor=actor, verb="renewed feed", thing=current, fields=["secret_digest"], now=now)
    return current, secret


def revoke_feed(
    *, actor: User | None, feed: Feed, version: int | None = None, now: datetime
) -> Feed:
    """The address is nothing from now on. Refused("stale") as in `renew_feed`."""
    current = _open(feed, version)
    current.revoked_at = now
    current.version += 1
    current.save(update_fields=["revoked_at", "version"])
    record(actor=actor, verb="revoked feed", thing=current, fields=["revoked_at"], now=now)
    return current


def _open(feed: Feed, version: int | None) -> Feed:
    current = Feed.objects.select_for_update(no_key=True).get(pk=feed.pk)
    if current.revoked_at is not None:
        raise Refused("already-ended", "This calendar address has been revoked; open a new one.")
    if version is not None and current.version != version:
        raise Refused(
            "stale", "The calendar has a new address since you read it. Read it again, then decide."
        )
    return current


def is_worth_noting(feed: Feed, now: datetime) -> bool:
    """Whether the last fetch that is known lies an hour back: most fetches are not written down."""
    return feed.fetched_at is None or feed.fetched_at <= now - timedelta(hours=1)


def note_fetch(*, feed: Feed, now: datetime) -> None:
    """Keeps when a calendar last asked. Nobody's change, so there is no audit row."""
    Feed.objects.filter(pk=feed.pk).update(fetched_at=now)
