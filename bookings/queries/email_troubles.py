"""Addresses that cannot be reached, for admins and for their own readers."""

from dataclasses import dataclass

from django.db.models import QuerySet

from accounts.models import User
from bookings.access import not_there, require_admin
from bookings.domain.addresses import in_ascii
from bookings.models import EmailTrouble, OutboxMessage
from bookings.outbox.address_proofs import is_proof


@dataclass(frozen=True, slots=True)
class Unreachable:
    """An address that cannot be reached, and how many emails wait for it."""

    row: EmailTrouble
    waiting: int


def all_troubles(actor: User) -> QuerySet[EmailTrouble]:
    """Every address that cannot be reached, for an admin. Refused("not-allowed")."""
    require_admin(actor)
    return EmailTrouble.objects.marked().select_related("owner")


def one_trouble(actor: User, trouble_id: int) -> Unreachable:
    """An address that cannot be reached, for an admin.

    Refused: "not-allowed" for anybody else, "not-found" for one that is not marked.
    """
    require_admin(actor)
    row = EmailTrouble.objects.marked().select_related("owner").filter(pk=trouble_id).first()
    if row is None:
        raise not_there()
    waiting = OutboxMessage.objects.held().filter(to_address__iexact=row.address).count()
    return Unreachable(row, waiting)


def trouble_of(user: User) -> EmailTrouble | None:
    """What stops emails to this person, if anything."""
    marked = EmailTrouble.objects.marked()
    return marked.filter(owner=user, address=in_ascii(user.email).lower()).first()


def check_proof(user: User, proof: str) -> None:
    """Refused("not-found") for a proof that is not of this person's address, or is of no use any
    more.
    """
    row = trouble_of(user)
    if row is None or not is_proof(row, proof):
        raise not_there()
