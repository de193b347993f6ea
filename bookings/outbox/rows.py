"""The rows of the outbox: enqueued, superseded by newer ones, withdrawn, and emptied when old."""

from collections.abc import Collection, Iterable
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F, Q, QuerySet

from accounts.models import Guardianship
from bookings.models import Feed, OutboxMessage, OutboxQuerySet, SentSequence
from bookings.models.prepared import prepared
from bookings.outbox.kinds import (
    AHEAD,
    HOLDS_A_SECRET,
    NAMES_ITS_ADDRESS,
    OVERTAKEN,
    REMINDERS,
    MessageKind,
)
from bookings.outbox.tracing import id_for

GIVEN_UP_SHOWN = timedelta(days=7)
_FIRST = "sequence:0"


def enqueue(
    messages: Iterable[OutboxMessage], *, now: datetime, shown_to: Iterable[int] = ()
) -> None:
    """Stores messages in the caller's transaction. A message that is stored already is left alone.

    Unsent messages of the same person and meeting are superseded by newer invitations and
    cancellations. Every SEQUENCE is recorded. Last of all, in lock order, the feeds of the
    recipients are revised, and those of `shown_to` (user ids), who are told nothing.
    """
    rows = list(messages)
    if not rows:
        return
    OutboxMessage.objects.bulk_create(rows, ignore_conflicts=True)
    # SEQUENCE 0 is the first that a person gets for a meeting: no older message can wait.
    changed = [row for row in rows if row.sequence]
    # A child who is not of age yet has reminders but no invitation, so they go by reminders alone.
    reminded = [row for row in rows if row.kind in REMINDERS and row.state_key != _FIRST]
    _supersede(reminded, REMINDERS)
    _supersede(changed, OVERTAKEN)
    SentSequence.objects.bulk_create(
        [
            SentSequence(
                meeting_id=row.meeting_id, recipient_id=row.reader_id, sequence=row.sequence
            )
            for row in rows
            if row.meeting_id is not None and row.sequence is not None
        ],
        update_conflicts=True,
        unique_fields=["meeting", "recipient"],
        update_fields=["sequence"],
    )
    bump_feeds(
        {row.reader_id for row in rows if row.meeting_id is not None}.union(shown_to), now=now
    )


def _supersede(newer: list[OutboxMessage], kinds: Collection[MessageKind]) -> None:
    """Supersedes messages of these kinds to the same reader about the same thing, in other states.

    One that was given up is of no use either once a newer one exists.
    """
    states = {(row.recipient_id, row.subject_key): row.state_key for row in newer}
    if not states:
        return
    rows = OutboxMessage.objects.unsent_or_given_up().filter(
        kind__in=kinds,
        recipient__in={recipient for recipient, _ in states},
        subject_key__in={subject for _, subject in states},
    )
    old = [
        pk
        for pk, recipient, subject, state in rows.values_list(
            "pk", "recipient_id", "subject_key", "state_key"
        )
        if states.get((recipient, subject), state) != state
    ]
    if old:
        rows = OutboxMessage.objects.unsent_or_given_up().filter(pk__in=old)
        rows.update(state=OutboxMessage.State.SUPERSEDED)


def withdraw_resets(reader_id: int) -> None:
    """Withdraws and empties a person's unsent links to a new password."""
    rows = OutboxMessage.objects.unsent_or_given_up().to(reader_id).filter(kind=MessageKind.RESET)
    rows.update(state=OutboxMessage.State.SUPERSEDED, body="", leased_until=None)


def withdraw(subject_keys: Collection[str]) -> None:
    """Withdraws unsent reminders and shifts of these things, which have ended or changed."""
    rows = OutboxMessage.objects.unsent().filter(kind__in=(*REMINDERS, MessageKind.SHIFT))
    rows.filter(subject_key__in=subject_keys).update(state=OutboxMessage.State.SUPERSEDED)


def withdraw_form(subject_key: str) -> None:
    """Withdraws and empties an unsent form or invitation, whose link no longer works."""
    rows = OutboxMessage.objects.unsent().filter(kind__in=HOLDS_A_SECRET, subject_key=subject_key)
    rows.update(state=OutboxMessage.State.SUPERSEDED, body="")


def withdraw_offer(booking_id: int) -> None:
    """Withdraws unsent reminders of an offer that is answered, has ended or is sent again."""
    reminders = OutboxMessage.objects.unsent().filter(kind=MessageKind.OFFER_REMINDER)
    about_it = reminders.filter(state_key__startswith=f"booking:{booking_id}:")
    about_it.update(state=OutboxMessage.State.SUPERSEDED)


def withdraw_question(subject_key: str) -> None:
    """Withdraws unsent emails that ask something which has been answered or has ended."""
    rows = OutboxMessage.objects.unsent().filter(kind=MessageKind.OFFER)
    rows.filter(subject_key=subject_key).update(state=OutboxMessage.State.SUPERSEDED)


def withdraw_asked(subject_key: str) -> set[int]:
    """Withdraws unsent emails that ask people about a plan which is put aside. Returns the ids of
    the readers to whom none has left.
    """
    rows = OutboxMessage.objects.filter(kind=MessageKind.TOLD, subject_key=subject_key)
    withdrawn = set(rows.unsent().values_list("recipient_id", flat=True))
    rows.unsent().update(state=OutboxMessage.State.SUPERSEDED)
    sent = rows.filter(state=OutboxMessage.State.SENT).values_list("recipient_id", flat=True)
    return {pk for pk in withdrawn if pk is not None} - set(sent)


def take_back_ahead(reader_id: int, *, now: datetime) -> None:
    """Deletes a reader's messages that were written ahead, so that they can be enqueued again.

    A message that somebody has tried to send stays.
    """
    OutboxMessage.objects.untried(now).to(reader_id).filter(kind__in=AHEAD).delete()


def take_back(pks: Collection[int]) -> None:
    """Takes these messages back. Unsent ones are deleted, so that they can be enqueued again.

    One that is on its way, or has left, stays as a row without a text, so nobody sends it again.
    """
    rows = OutboxMessage.objects.filter(pk__in=pks)
    unsent = rows.unsent_or_given_up()
    unsent.filter(attempts=0, leased_until__isnull=True).delete()
    unsent.update(state=OutboxMessage.State.SUPERSEDED, leased_until=None)
    rows.update(body="", calendar="")


def send_to(reader_id: int, address: str, *, instead_of: str) -> None:
    """Sends a reader's unsent messages to their new address, also those that were held.

    Messages about the account itself stay: each is meant for the address that it names.
    """
    rows = OutboxMessage.objects.unsent().to(reader_id).exclude(kind__in=NAMES_ITS_ADDRESS)
    moved = list(rows.filter(to_address=instead_of))
    for row in moved:
        row.message_id = id_for(row.message_id, address)
        row.to_address, row.held_since = address, None
    OutboxMessage.objects.bulk_update(moved, ["message_id", "to_address", "held_since"])


def take_back_follow_ups(reader_id: int) -> None:
    """Deletes an instructor's unsent follow-up, after a part of it is done.

    What is still open is written again.
    """
    rows = OutboxMessage.objects.unsent().to(reader_id).filter(leased_until__isnull=True)
    rows.filter(kind=MessageKind.FOLLOW_UP).delete()


def take_back_owed_reminders(subject_key: str, state_key: str) -> int:
    """Deletes unsent reminders of owed lessons with these keys; returns how many.

    What is still owed is written again.
    """
    rows = OutboxMessage.objects.unsent().filter(leased_until__isnull=True)
    rows = rows.filter(kind=MessageKind.OWED_REMINDER, subject_key=subject_key)
    return rows.filter(state_key=state_key).delete()[0]


def bump_feeds(user_ids: Collection[int], *, now: datetime) -> None:
    """Raises the revision of all feeds that show these people. Call this last, in lock order.

    They are their own feeds, those of their children with an account, and those of their time.
    """
    if not user_ids:
        return
    shown = [pk for (pk,) in _feeds_that_show(tuple(user_ids))]
    if shown:
        locked = Feed.objects.filter(pk__in=shown).order_by("pk").select_for_update(no_key=True)
        rows = Feed.objects.filter(pk__in=locked.values("pk"))
        rows.update(revision=F("revision") + 1, revised_at=now)


@prepared
def _feeds_that_show(user_ids: tuple[int, ...]) -> QuerySet[Feed, Any]:
    children = Guardianship.objects.answering().filter(guardian__in=user_ids).student_ids()
    shown = (
        Q(owner__in=user_ids) | Q(owner__student__in=children) | Q(instructor__user__in=user_ids)
    )
    return Feed.objects.not_revoked().filter(shown).values_list("pk")


def oldest_due(now: datetime) -> timedelta:
    """How long the oldest unsent email has been due, since it first was; zero without one. Held
    ones wait for something else.
    """
    unsent = OutboxMessage.objects.sendable()
    due = unsent.filter(due_at__lte=now).order_by("due_at").values_list("due_at", flat=True)
    tried = unsent.filter(waits_since__isnull=False).order_by("waits_since")
    firsts = [due.first(), tried.values_list("waits_since", flat=True).first()]
    return max((now - first for first in firsts if first is not None), default=timedelta())


def given_up_lately(now: datetime) -> OutboxQuerySet:
    """Emails that were given up in the last seven days, newest first."""
    given_up = OutboxMessage.objects.emails().given_up()
    return given_up.filter(due_at__gt=now - GIVEN_UP_SHOWN).order_by("-due_at", "-pk")
