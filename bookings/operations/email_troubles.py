"""Addresses that our emails do not reach: what mail servers report, and how an address is lifted.

A report counts only where it is about an email that we sent, which its seal shows
(outbox/tracing.py), and once for each email.
"""

from datetime import datetime, timedelta
from secrets import token_hex

from accounts.models import User, Welcome
from bookings import notices, outbox
from bookings.access import not_there, require_admin
from bookings.calendars.ignoring import Ignored, WhyIgnored
from bookings.calendars.reports import Action, MailReport, Outcome
from bookings.domain.addresses import in_ascii, known_as
from bookings.domain.email_troubles import Trouble, is_gone
from bookings.models import EmailTrouble, OutboxMessage
from bookings.operations.audit import record
from bookings.outbox.address_proofs import is_proof, proof_of

_REPORTED_FOR = timedelta(days=60)
"""A report about an older email is ignored: servers give up after days, readers after weeks."""


def hear_report(report: MailReport, *, now: datetime) -> None:
    """Marks the address of the email that the report is about. Raises Ignored where nothing follows
    from it.

    A failure for good holds the email itself again. Trouble that may pass is only counted.
    """
    message = outbox.traced(report.to, report.message_ids)
    if message is None:
        raise Ignored(WhyIgnored.UNKNOWN_ADDRESS)
    if message.returned_at is not None or message.made_at < now - _REPORTED_FOR:
        raise Ignored(WhyIgnored.OLD)
    if report.is_complaint:
        is_theirs = outbox.mark(message, Trouble.COMPLAINT, "", now=now)
    else:
        is_theirs = _hear_failure(message, report, now)
    if not is_theirs:
        raise Ignored(WhyIgnored.UNKNOWN_ADDRESS)
    if report.is_complaint:
        OutboxMessage.objects.filter(pk=message.pk).update(returned_at=now)


def _hear_failure(message: OutboxMessage, report: MailReport, now: datetime) -> bool:
    outcomes = _about(message, report.outcomes)
    if any(one.action not in (Action.FAILED, Action.DELAYED) for one in outcomes):
        raise Ignored(WhyIgnored.NO_ANSWER)
    status = outcomes[0].status
    failed = all(one.action == Action.FAILED for one in outcomes)
    if not (failed and all(is_gone(one.status) for one in outcomes)):
        outbox.note_trouble(message, status, now=now)
        return True
    if not outbox.mark(message, Trouble.GONE, status, now=now):
        return False
    OutboxMessage.objects.filter(pk=message.pk).update(returned_at=now)
    outbox.hold_again(message, now=now)
    return True


def _about(message: OutboxMessage, outcomes: list[Outcome]) -> list[Outcome]:
    """What became of our recipient: their own outcome, or all where the email was passed on."""
    own = [one for one in outcomes if message.to_address.lower() in one.addresses]
    return own or outcomes


def tell_of_troubles(*, now: datetime) -> None:
    """Tells every admin once of the addresses that cannot be reached since the last time."""
    untold = EmailTrouble.objects.untold().exclude(owner__is_active=False)
    rows = list(untold.select_related("owner").select_for_update(of=("self",)))
    if not rows:
        return
    for admin in User.objects.filter(is_staff=True, is_active=True).order_by("pk"):
        outbox.enqueue(notices.addresses_unreachable(admin, rows, now=now), now=now)
    EmailTrouble.objects.filter(pk__in=[row.pk for row in rows]).update(told_at=now)


def lift(*, actor: User, trouble_id: int, now: datetime) -> EmailTrouble:
    """Sends to an address again, by an admin who has spoken with its reader.

    Refused: "not-allowed" for anybody but an admin, "not-found" where nothing is marked.
    """
    require_admin(actor)
    row = EmailTrouble.objects.marked().filter(pk=trouble_id).first()
    if row is None:
        raise not_there()
    _lift(row, actor, now)
    return row


def ask_for_proof(*, actor: User, now: datetime) -> None:
    """Sends the actor an email with a link that proves their address, instead of an earlier one
    that still waits.

    Refused("not-found") where their address is not marked.
    """
    row = _own(actor)
    outbox.withdraw_proofs(actor.pk)
    outbox.enqueue(
        notices.address_to_prove(actor, proof_of(row), key=token_hex(8), now=now), now=now
    )


def prove(*, actor: User, proof: str, now: datetime) -> None:
    """Sends to the actor's address again: they have read an email there.

    Refused("not-found") for a proof that is not theirs, or of an earlier time.
    """
    row = _own(actor)
    if not is_proof(row, proof):
        raise not_there()
    _lift(row, actor, now)


def prove_by_link(user: User, *, now: datetime) -> None:
    """Lifts the mark of an address to which a link was sent that has just been used."""
    row = EmailTrouble.objects.marked().filter(address=in_ascii(user.email)).first()
    if row is not None:
        _lift(row, user, now)


def forget_address(address: str) -> None:
    """Forgets what was reported of an address that nobody has any more."""
    EmailTrouble.objects.filter(address=in_ascii(address).lower()).delete()


def forget_troubles(*, now: datetime) -> None:
    """Forgets troubles that have passed, and those of invitations that are over."""
    passed = EmailTrouble.objects.filter(
        marked_at__isnull=True, last_on__lt=(now - _REPORTED_FOR).date()
    )
    passed.delete()
    nobodys = dict(EmailTrouble.objects.filter(owner__isnull=True).values_list("pk", "address"))
    read = {pk: known_as(address) for pk, address in nobodys.items()}
    invited = set(
        Welcome.objects.usable(now).filter(email__in=read.values()).values_list("email", flat=True)
    )
    over = [pk for pk, address in read.items() if address not in invited]
    EmailTrouble.objects.filter(pk__in=over, owner__isnull=True).delete()


def _own(actor: User) -> EmailTrouble:
    row = EmailTrouble.objects.marked().filter(owner=actor, address=in_ascii(actor.email)).first()
    if row is None:
        raise not_there()
    return row


def _lift(row: EmailTrouble, actor: User, now: datetime) -> None:
    outbox.release(row.address, now=now)
    if row.owner_id is not None:
        outbox.withdraw_proofs(row.owner_id)
    record(actor=actor, verb="lifted", thing=row, now=now)
    row.delete()
