"""A person's calendar addresses: opened, renewed, revoked.

The secret of an address is shown once. Only its digest is stored.
"""

from datetime import datetime, timedelta
from uuid import UUID, uuid4

from accounts.models import Instructor, User, digest, new_secret
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import FeedKind
from bookings.models import Feed, Meeting
from bookings.operations.audit import record
from bookings.operations.limits import check_feeds
from bookings.operations.versions import check_version


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
    """Opens a feed: the actor's meetings, one `meeting`'s places, or an `instructor`'s time.

    Returns it with the secret of its address. The caller checks that the actor may see the meeting
    or the instructor; every fetch checks it again. `names_children` shows children's first names in
    a feed of the actor's own meetings. Refused: "invalid", "limit-reached", "already-done" where
    the actor has opened one with this `uid`: a form sent twice opens one.
    """
    label = _checked_label(label)
    kind = _kind(meeting, instructor, names_children)
    own, uid = Feed.objects.of(actor), uid or uuid4()
    check_feeds(actor=actor, feeds=own.not_revoked().exclude(uid=uid))
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


def _kind(meeting: Meeting | None, instructor: Instructor | None, names_children: bool) -> FeedKind:
    """What the feed shows. Refused("invalid") where it would show two things."""
    about_others = meeting is not None or instructor is not None
    if (meeting and instructor) or (names_children and about_others):
        raise Refused(
            "invalid",
            "A calendar shows one thing: your own meetings, one meeting's roster, "
            "or when an instructor is busy.",
            field="names_children" if names_children else "meeting",
        )
    if meeting is not None:
        return FeedKind.ROSTER
    return FeedKind.MEETINGS if instructor is None else FeedKind.FREE_BUSY


def _checked_label(label: str) -> str:
    label = label.strip()
    if not label or len(label) > 60:
        raise Refused("invalid", "Give the calendar a name of up to 60 characters, such as Phone.")
    return label


def renew_feed(
    *, actor: User, feed: Feed, version: int | None = None, now: datetime
) -> tuple[Feed, str]:
    """Gives a feed a new address; the old one no longer works. Returns it with the new secret.

    Refused: "already-ended" for a revoked feed, "stale". Without the version, the second of two
    simultaneous requests would end the address that the first was shown.
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
    """Ends a feed, so that its address no longer works. Refused as `renew_feed`."""
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
    check_version(
        current,
        version,
        detail="The calendar has a new address since you read it. Read it again, then decide.",
    )
    return current


def is_worth_noting(feed: Feed, now: datetime) -> bool:
    """Whether to store this fetch: once an hour at most."""
    return feed.fetched_at is None or feed.fetched_at <= now - timedelta(hours=1)


def note_fetch(*, feed: Feed, now: datetime) -> None:
    """Stores when a calendar last asked. Nobody acted, so there is no audit row."""
    Feed.objects.filter(pk=feed.pk).update(fetched_at=now)
