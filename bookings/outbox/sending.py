"""Claim, send, mark: three steps, so that nothing is sent inside a transaction.

Only after a crash is a message sent twice. It then has the same Message-ID, Date, text and DTSTAMP,
so its reader sees one.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from email.message import EmailMessage as StandardMessage
from typing import Any
from zlib import crc32

import structlog
from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Coalesce

from bookings.calendars.events import Party
from bookings.calendars.mail import invitation_mail
from bookings.domain.addresses import in_ascii
from bookings.domain.email_troubles import Trouble
from bookings.domain.policy import quiet_until
from bookings.models import OutboxMessage
from bookings.outbox.failures import described, is_address_gone, is_final, status_of
from bookings.outbox.kinds import (
    ALWAYS_SENT,
    ASKED_ANEW,
    BY_DAY,
    HOLDS_A_SECRET,
    ONCE_A_DAY,
    TO_THE_CLOSED,
)
from bookings.outbox.leasing import leased
from bookings.outbox.readers import is_theirs
from bookings.outbox.tracing import return_path
from bookings.outbox.troubles import mark, waits_until

log = structlog.get_logger(__name__)

FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(hours=1)
ATTEMPTS = 29
"""They take 23 to 24 hours: the waits are 1, 2, 4 ... 32 minutes, then an hour each, and jitter."""
_DUE = OutboxMessage.State.DUE


def claim(now: datetime, limit: int) -> list[OutboxMessage]:
    """Up to `limit` due messages, leased to the caller for two minutes. Each counts as an attempt.

    Messages to one person about one thing leave in order, so a cancellation never overtakes an
    invitation. PostgreSQL skips rows that another worker claims. On SQLite one statement chooses
    and leases.
    """
    before = OutboxMessage.objects.filter(
        recipient=OuterRef("recipient"), subject_key=OuterRef("subject_key"), pk__lt=OuterRef("pk")
    )
    # A message that waits for its next attempt is in the way; one that is held, or not due yet, is
    # not.
    in_the_way = before.filter(held_since__isnull=True).filter(
        Q(leased_until__gt=now) | Q(state=_DUE) & (Q(due_at__lte=now) | Q(attempts__gt=0))
    )
    free = Q(leased_until__isnull=True) | Q(leased_until__lte=now)
    ready = OutboxMessage.objects.sendable()
    return leased(ready.filter(free, ~Exists(in_the_way), due_at__lte=now), now, limit)


def send(message: OutboxMessage) -> None:
    """Hands one message to the mail backend. Raises what the backend raises."""
    is_own = message.to_address == in_ascii(message.reader.email)
    name = message.reader.name if is_own else ""
    mail = invitation_mail(
        subject=message.title,
        body=message.body,
        sender=Party(settings.ORGANIZER_EMAIL, settings.SCHOOL_NAME),
        recipient=Party(message.to_address, name),
        message_id=message.message_id,
        calendar=message.calendar.encode() or None,
        method=message.method or None,
        date=message.made_at,
        site=settings.BASE_URL,
    )
    _Ready(mail, return_path(message), to=[message.to_address]).send()


def drain(clock: Callable[[], datetime], limit: int = 500) -> int:
    """Sends due messages one by one, `limit` at most. Returns how many were sent.

    `clock` gives the present instant. A slow mail server makes a round long, and every lease counts
    from its own claim.
    """
    sent = 0
    for _ in range(limit):
        claimed = claim(clock(), 1)
        if not claimed:
            break
        if _send_or_keep(claimed[0], clock):
            sent += 1
    return sent


def _send_or_keep(message: OutboxMessage, clock: Callable[[], datetime]) -> bool:
    """Whether the message was sent. If not, it is superseded, held, kept for later or given up."""
    now = clock()
    # After a long wait another worker may have claimed the message; then `attempts` has risen.
    ours = OutboxMessage.objects.filter(pk=message.pk, attempts=message.attempts)
    if not _is_of_use(message, now):
        ours.update(state=OutboxMessage.State.SUPERSEDED, leased_until=None, **_emptied(message))
        return False
    awake = quiet_until(now, message.reader.zone) if message.kind in BY_DAY else now
    free = waits_until(message, awake)
    if free is None or free > now:
        ours.update(
            due_at=free or now,
            held_since=None if free else now,
            waits_since=None,
            leased_until=None,
            attempts=message.attempts - 1,
        )
        return False
    try:
        send(message)
    except Exception as error:  # a mail server and its network may raise anything
        _keep_for_later(message, ours.unsent(), error, clock())
        ours.filter(leased_until__isnull=False).update(leased_until=None)
        return False
    OutboxMessage.objects.filter(pk=message.pk).update(
        state=OutboxMessage.State.SENT,
        sent_at=clock(),
        waits_since=None,
        leased_until=None,
        last_error="",
        **_emptied(message),
    )
    return True


def _is_of_use(message: OutboxMessage, now: datetime) -> bool:
    """Whether somebody is still to read the message."""
    if not message.reader.is_active and message.kind not in TO_THE_CLOSED:
        return False
    if message.good_until is not None and message.good_until <= now:
        return False
    return is_theirs(message, now)


def _emptied(message: OutboxMessage) -> dict[str, str]:
    """The fields that erase a text with a secret; none for any other text."""
    return {"body": "", "calendar": ""} if message.kind in HOLDS_A_SECRET else {}


def _keep_for_later(message: OutboxMessage, row: Any, error: Exception, now: datetime) -> None:
    """Keeps the row for the next attempt. Gives it up after the last one or a final refusal."""
    reason = described(error)
    told = {
        "message": message.pk,
        "kind": message.kind,
        "attempts": message.attempts,
        "error": reason,
    }
    if is_address_gone(error) and _hold(message, row, error, now):
        log.warning("an address cannot be reached", **told)
        return
    if is_final(error) or message.attempts >= ATTEMPTS:
        emptied = _emptied(message) if message.kind in ASKED_ANEW else {}
        row.update(
            state=OutboxMessage.State.GIVEN_UP, leased_until=None, last_error=reason, **emptied
        )
        log.error("a message was given up", **told)
        return
    row.update(
        waits_since=Coalesce("waits_since", "due_at"),
        due_at=now + wait(message),
        leased_until=None,
        last_error=reason,
    )
    log.warning("a message did not leave", **told)


def _hold(message: OutboxMessage, row: Any, error: Exception, now: datetime) -> bool:
    """Marks the address and keeps the message until it is lifted; False where it is not kept."""
    with transaction.atomic():
        is_marked = mark(message, Trouble.GONE, status_of(error), now=now)
    if not is_marked or message.kind in (*ALWAYS_SENT, *ONCE_A_DAY):
        return False
    row.update(held_since=now, leased_until=None, last_error=described(error))
    return True


def wait(message: OutboxMessage) -> timedelta:
    """How long until the next attempt: twice as long each time, up to an hour, and jitter.

    The jitter is up to a tenth. It is a digest of message and attempt, so a repeated run is the
    same.
    """
    jitter = crc32(f"{message.pk}:{message.attempts}".encode()) / 2**32 / 10
    return backed_off(message.attempts) * (1 + jitter)


def backed_off(failures: int) -> timedelta:
    """The wait after so many failures in a row, without its jitter."""
    return min(FIRST_WAIT * 2 ** min(failures - 1, 10), LONGEST_WAIT)


class _Ready(EmailMessage):
    """A finished message in the form that Django's mail backends take."""

    def __init__(self, written: StandardMessage, sender: str, to: list[str]) -> None:
        super().__init__(from_email=sender, to=to)
        self._written = written

    def message(self, **_: Any) -> Any:
        return _Bytes(self._written)


class _Bytes:
    """The two methods that the backends call. The lines of the message already end in CRLF."""

    def __init__(self, written: StandardMessage) -> None:
        self._written = written

    def as_bytes(self, **_: Any) -> bytes:
        return self._written.as_bytes()

    def get_charset(self) -> None:
        return None
