"""A message sent once more by an admin."""

from datetime import datetime

from accounts.models import User
from bookings import outbox
from bookings.domain.addresses import in_ascii
from bookings.domain.errors import Refused
from bookings.models import OutboxMessage
from bookings.operations.audit import record
from bookings.outbox.kinds import NAMES_ITS_ADDRESS


def send_again(*, actor: User, message: OutboxMessage, now: datetime) -> OutboxMessage:
    """Makes the same row due again, to the recipient's address of today.

    Message-ID and SEQUENCE stay for the same address, so a calendar that has it already sees
    nothing new. Refused:
    "already-done" where it is due anyway, "already-ended" where a newer message has replaced it or
    its text has been erased.
    """
    current = OutboxMessage.objects.select_for_update(no_key=True, of=("self",)).get(pk=message.pk)
    if current.state == OutboxMessage.State.DUE and current.held_since is not None:
        raise Refused("already-done", "This message waits until its address is reached again.")
    if current.state == OutboxMessage.State.DUE:
        raise Refused("already-done", "This message is about to leave anyway.")
    newer = OutboxMessage.objects.filter(
        recipient=current.recipient_id,
        subject_key=current.subject_key,
        sequence__gt=current.sequence or 0,
    )
    overtaken = current.sequence is not None and newer.exists()
    if current.state == OutboxMessage.State.SUPERSEDED or overtaken or not current.body:
        raise Refused(
            "already-ended",
            "A newer message has taken its place, or its text has been erased. "
            "Cause a new one instead.",
        )
    current.state, current.due_at, current.leased_until = OutboxMessage.State.DUE, now, None
    current.waits_since = None
    if current.recipient and current.kind not in NAMES_ITS_ADDRESS:
        # The address may have been wrong when the row was written.
        current.to_address = in_ascii(current.recipient.email)
        current.message_id = outbox.id_for(current.message_id, current.to_address)
    fields = ["state", "due_at", "leased_until", "waits_since", "to_address", "message_id"]
    current.save(update_fields=fields)
    record(actor=actor, verb="sent again", thing=current, now=now)
    return current
