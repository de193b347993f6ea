"""The rows: enqueued with the change that causes them, superseded by newer states, emptied when they are old."""

from collections.abc import Collection, Iterable
from datetime import datetime, timedelta

from django.db.models import F, Q, QuerySet

from bookings.models import Feed, OutboxMessage, SentSequence
from bookings.outbox.kinds import AHEAD, HOLDS_A_SECRET, OVERTAKEN, REMINDERS, MessageKind

BODIES_KEPT = timedelta(days=30)
GIVEN_UP_SHOWN = timedelta(days=7)
_FIRST = "sequence:0"
_NOT_SENT = (OutboxMessage.State.DUE, OutboxMessage.State.GIVEN_UP)


def enqueue(
    messages: Iterable[OutboxMessage], *, now: datetime, shown_to: Iterable[int] = ()
) -> None:
    """Keeps `messages` in the caller's transaction; one that is there already in the same state is left alone.

    Newer invitations and cancellations supersede what is unsent of the same person and meeting. Records each SEQUENCE, and
    revises the feeds of the people concerned last (the written lock order); `shown_to` are those who are told nothing and
    whose feeds change all the same (user ids).
    """
    rows = list(messages)
    if not rows:
        return
    OutboxMessage.objects.bulk_create(rows, ignore_conflicts=True)
    # SEQUENCE 0 is the first that a person gets for a meeting, so nothing of hers can be waiting.
    changed = [row for row in rows if row.sequence]
    # A child not yet of age gets reminders and no invitation.
    reminded = [row for row in rows if row.kind in REMINDERS and row.state_key != _FIRST]
    _supersede(reminded, REMINDERS)
    _supersede(changed, OVERTAKEN)
    SentSequence.objects.bulk_create(
        [
            SentSequence(
                meeting_id=row.meeting_id, recipient_id=row.recipient_id, sequence=row.sequence
            )
            for row in rows
            if row.meeting_id is not None and row.sequence is not None
        ],
        update_conflicts=True,
        unique_fields=["meeting", "recipient"],
        update_fields=["sequence"],
    )
    bump_feeds(
        {row.recipient_id for row in rows if row.meeting_id is not None}.union(shown_to), now=now
    )


def _supersede(newer: list[OutboxMessage], kinds: Collection[MessageKind]) -> None:
    standing = {(row.recipient_id, row.subject_key): row.state_key for row in newer}
    if not standing:
        return
    # What was given up is of no use either, once something newer is to be told.
    unsent = OutboxMessage.objects.filter(
        state__in=_NOT_SENT,
        kind__in=kinds,
        recipient__in={recipient for recipient, _ in standing},
        subject_key__in={subject for _, subject in standing},
    ).values_list("pk", "recipient_id", "subject_key", "state_key")
    old = [
        pk
        for pk, recipient, subject, state in unsent
        if standing.get((recipient, subject), state) != state
    ]
    if old:
        OutboxMessage.objects.filter(pk__in=old, state__in=_NOT_SENT).update(
            state=OutboxMessage.State.SUPERSEDED
        )


def withdraw_resets(reader_id: int) -> None:
    """Links for a new password that have not left yet never will, and go: a newer one has been
    asked for.
    """
    unsent = OutboxMessage.objects.filter(recipient=reader_id, kind=MessageKind.RESET)
    unsent.filter(state__in=_NOT_SENT).update(
        state=OutboxMessage.State.SUPERSEDED, body="", leased_until=None
    )


def withdraw(subject_keys: Collection[str]) -> None:
    """Reminders and told shifts of these things that have not left yet never will: what they speak of has ended."""
    unsent = OutboxMessage.objects.filter(
        state=OutboxMessage.State.DUE, kind__in=(*REMINDERS, MessageKind.SHIFT)
    )
    unsent.filter(subject_key__in=subject_keys).update(state=OutboxMessage.State.SUPERSEDED)


def withdraw_form(subject_key: str) -> None:
    """A form or an invitation that has not left yet never will: the key in it opens nothing any more."""
    unsent = OutboxMessage.objects.filter(
        state=OutboxMessage.State.DUE, kind__in=HOLDS_A_SECRET, subject_key=subject_key
    )
    unsent.update(state=OutboxMessage.State.SUPERSEDED, body="")


def withdraw_offer(booking_id: int) -> None:
    """Reminders of an offer that have not left yet never will: it has been answered, has ended, or is told anew."""
    reminders = OutboxMessage.objects.filter(
        state=OutboxMessage.State.DUE, kind=MessageKind.OFFER_REMINDER
    )
    reminders.filter(state_key__startswith=f"booking:{booking_id}:").update(
        state=OutboxMessage.State.SUPERSEDED
    )


def take_back_ahead(reader_id: int, *, now: datetime) -> None:
    """Deletes what was written ahead for this reader and nobody has tried to send, so that it can be enqueued anew."""
    untouched = OutboxMessage.objects.filter(
        state=OutboxMessage.State.DUE, attempts=0, leased_until__isnull=True, due_at__gt=now
    )
    untouched.filter(recipient=reader_id, kind__in=AHEAD).delete()


def send_to(reader_id: int, address: str, *, instead_of: str) -> None:
    """What has not left yet goes to this reader's new address, but for what is said about an address to that address."""
    waiting = OutboxMessage.objects.filter(
        recipient=reader_id, state=OutboxMessage.State.DUE
    ).exclude(kind=MessageKind.ACCOUNT)
    waiting.filter(to_address=instead_of).update(to_address=address)


def take_back_follow_ups(reader_id: int) -> None:
    """Deletes the unsent follow-up of an instructor who has just done some of it; what is still open is told anew."""
    waiting = OutboxMessage.objects.filter(state=OutboxMessage.State.DUE, leased_until__isnull=True)
    waiting.filter(recipient=reader_id, kind=MessageKind.FOLLOW_UP).delete()


def bump_feeds(user_ids: Collection[int], *, now: datetime) -> None:
    """Raises the revision of these people's feeds, and of the feeds of children they answer for; call it last."""
    if not user_ids:
        return
    shown = (
        Q(owner__in=user_ids)
        | Q(owner__student__guardians__in=user_ids)
        | Q(instructor__user__in=user_ids)
    )
    concerned = Feed.objects.filter(shown, revoked_at__isnull=True).values("pk")
    locked = list(
        Feed.objects.select_for_update(no_key=True)
        .filter(pk__in=concerned)
        .order_by("pk")
        .values_list("pk", flat=True)
    )
    if locked:
        Feed.objects.filter(pk__in=locked).update(revision=F("revision") + 1, revised_at=now)


def erase_old_bodies(now: datetime) -> int:
    """Empties the text of messages that left, or were given up or superseded, 30 days ago; how many."""
    until = now - BODIES_KEPT
    done = OutboxMessage.objects.filter(
        Q(sent_at__lt=until) | Q(sent_at__isnull=True, due_at__lt=until)
    ).exclude(state=OutboxMessage.State.DUE)
    return done.exclude(body="", calendar="").update(body="", calendar="")


def oldest_due(now: datetime) -> timedelta:
    """For how long the message that waits longest has been due, counted from when it first was;
    nothing where none waits.
    """
    unsent = OutboxMessage.objects.filter(state=OutboxMessage.State.DUE)
    due = unsent.filter(due_at__lte=now).order_by("due_at").values_list("due_at", flat=True)
    tried = unsent.filter(waits_since__isnull=False).order_by("waits_since")
    firsts = [due.first(), tried.values_list("waits_since", flat=True).first()]
    return max((now - first for first in firsts if first is not None), default=timedelta())


def given_up_lately(now: datetime) -> QuerySet[OutboxMessage]:
    """What was given up in the last week, newest first."""
    given_up = OutboxMessage.objects.filter(state=OutboxMessage.State.GIVEN_UP)
    return given_up.filter(due_at__gt=now - GIVEN_UP_SHOWN).order_by("-due_at", "-pk")
