"""Addresses that cannot be reached: emails to them wait, except those that let their reader in.

Whoever marks one writes in their own transaction.
"""

from datetime import datetime, timedelta

from accounts.models import User
from bookings.domain.addresses import in_ascii, known_as
from bookings.domain.email_troubles import DAYS_OF_TROUBLE, FORGOTTEN_AFTER, Trouble
from bookings.models import EmailTrouble, OutboxMessage
from bookings.outbox.kinds import ALWAYS_SENT, ONCE_A_DAY, MessageKind

_A_DAY = timedelta(days=1)
_HELD_FOR = timedelta(days=30)
"""How long an email waits for its address to be reached again."""


def mark(message: OutboxMessage, why: Trouble, status: str, *, now: datetime) -> bool:
    """Marks the address of a message that did not arrive or was not wanted; whether it is one that
    we still write to.
    """
    row = _trouble(message, now)
    if row is None:
        return False
    if row.marked_at is None:
        row.marked_at, row.why, row.status = now, why, status[:11]
        row.save(update_fields=["marked_at", "why", "status"])
    return True


def note_trouble(message: OutboxMessage, status: str, *, now: datetime) -> None:
    """Counts one day of trouble that may pass. The last of DAYS_OF_TROUBLE marks the address."""
    today = now.date()
    row = _trouble(message, now)
    if row is None or (row.days and row.last_on == today):
        return
    row.days = 1 if row.last_on < today - FORGOTTEN_AFTER else row.days + 1
    row.last_on = today
    row.save(update_fields=["days", "last_on"])
    if row.days >= DAYS_OF_TROUBLE:
        mark(message, Trouble.REPEATED, status, now=now)


def _trouble(message: OutboxMessage, now: datetime) -> EmailTrouble | None:
    """The locked row of the message's address; None for an address that its reader has left."""
    reader = message.reader
    is_theirs = message.to_address.lower() == in_ascii(reader.email).lower()
    if not is_theirs and message.kind != MessageKind.WELCOME:
        return None
    address = message.to_address.lower()
    owner = reader if is_theirs else User.objects.filter(email=known_as(address)).first()
    fresh = {"last_on": now.date(), "owner": owner}
    EmailTrouble.objects.get_or_create(address=address, defaults=fresh)
    return EmailTrouble.objects.select_for_update(of=("self",)).get(address=address)


def waits_until(message: OutboxMessage, now: datetime) -> datetime | None:
    """When a message may leave: `now`, a later instant, or None while its address is marked."""
    marked = EmailTrouble.objects.marked().filter(address=message.to_address.lower())
    if message.kind in ALWAYS_SENT or not marked.exists():
        return now
    if message.kind not in ONCE_A_DAY:
        return None
    before = OutboxMessage.objects.filter(
        to_address=message.to_address, recipient=message.recipient_id, kind=message.kind
    )
    last = before.filter(sent_at__gt=now - _A_DAY).order_by("-sent_at").first()
    return now if last is None or last.sent_at is None else last.sent_at + _A_DAY


def release(address: str, *, now: datetime) -> int:
    """Lets the emails leave that waited for this address. Returns how many."""
    return (
        OutboxMessage.objects.held()
        .filter(to_address__iexact=address)
        .update(
            held_since=None,
            returned_at=None,
            due_at=now,
            waits_since=None,
            attempts=0,
        )
    )


def withdraw_proofs(reader_id: int) -> None:
    """Withdraws a person's unsent emails that would prove their address."""
    proofs = OutboxMessage.objects.unsent().to(reader_id).filter(kind=MessageKind.ADDRESS)
    proofs.update(state=OutboxMessage.State.SUPERSEDED, leased_until=None)


def hold_again(message: OutboxMessage, *, now: datetime) -> None:
    """Holds a message that was sent and came back, where it is still of use to its reader."""
    newer = OutboxMessage.objects.filter(
        recipient=message.recipient_id,
        subject_key=message.subject_key,
        sequence__gt=message.sequence or 0,
    )
    is_overtaken = message.sequence is not None and newer.exists()
    is_over = message.good_until is not None and message.good_until <= now
    if message.body and not is_overtaken and not is_over:
        sent = OutboxMessage.objects.filter(pk=message.pk, state=OutboxMessage.State.SENT)
        sent.update(state=OutboxMessage.State.DUE, sent_at=None, held_since=now)


def let_go(now: datetime) -> int:
    """Erases the text of held messages that are of no use any more, or that were held for as long
    as texts are kept.

    Returns how many.
    """
    held = OutboxMessage.objects.held()
    of_no_use = held.filter(good_until__lte=now) | held.filter(held_since__lt=now - _HELD_FOR)
    return of_no_use.update(
        state=OutboxMessage.State.SUPERSEDED,
        body="",
        calendar="",
        held_since=None,
        leased_until=None,
    )
