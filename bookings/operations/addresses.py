"""A new email address of an account: noted by an admin, and proven from its mailbox to count."""

from datetime import datetime, timedelta

from allauth.account.models import EmailAddress

from accounts.models import AddressChange, User, Welcome, digest, new_secret
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.addresses import in_ascii, mail_address
from bookings.domain.errors import Refused
from bookings.operations.accounts import lock_account
from bookings.operations.audit import record
from bookings.operations.consents import renew_forms
from bookings.operations.email_troubles import forget_address, prove_by_link
from bookings.operations.invitations import void
from bookings.operations.reminders import shown_to

GOOD_FOR = timedelta(days=7)
"""How long a new address can be confirmed."""


def ask_new_address(*, actor: User, user: User, email: str, now: datetime) -> AddressChange:
    """Notes a new address and sends it a link. The old address counts until the link is used.

    An older change that waits becomes void. Both addresses get an email. Refused: "already-done"
    where this or another account has the address, "already-ended" for a closed account.
    """
    require_admin(actor)
    current = lock_account(user)
    if not current.is_active:
        raise Refused("already-ended", "This account is closed: open it again first.")
    address = mail_address(email)
    if address == current.email:
        raise Refused("already-done", "The account has that email address.", field="email")
    _check_address_is_free(current, address)
    void_changes(current, now=now)
    secret = new_secret()
    change = AddressChange.objects.create(
        user=current,
        email=address,
        secret_digest=digest(secret),
        asked_by=actor,
        asked_at=now,
        good_until=now + GOOD_FOR,
    )
    record(actor=actor, verb="noted a new address", thing=current, fields=["email"], now=now)
    outbox.enqueue(notices.address_to_confirm(change, secret=secret, now=now), now=now)
    return change


def withdraw_new_address(*, actor: User, user: User, now: datetime) -> User:
    """Takes back a new address that is not confirmed yet. Refused("already-ended") without one."""
    require_admin(actor)
    current = lock_account(user)
    if not void_changes(current, now=now):
        raise Refused("already-ended", "No new address is waiting to be confirmed.")
    record(actor=actor, verb="withdrew a new address", thing=current, fields=["email"], now=now)
    return current


def change_by_secret(secret: str, *, now: datetime) -> AddressChange:
    """The change that waits for this link.

    Refused("not-found") for one that is unknown, used, void or expired: they all look the same.
    """
    rows = AddressChange.objects.waiting(now).select_related("user")
    found = rows.filter(secret_digest=digest(secret)).first()
    if found is None:
        raise Refused("not-found", "This link no longer works. Ask the school for a new one.")
    return found


def confirm_new_address(*, secret: str, now: datetime) -> User:
    """Makes the new address the account's only one. Both addresses get an email.

    It ends sessions and tokens, because somebody else may read the old mailbox. Messages that wait
    go to the new address, links to a new password become void, and consent forms are sent anew.
    Refused: "not-found" as `change_by_secret`, "already-done" where another account has the address
    by now, "already-ended" for a closed account.
    """
    current = lock_account(change_by_secret(secret, now=now).user)
    change = change_by_secret(secret, now=now)
    if not current.is_active:
        raise Refused("already-ended", "This account is closed. Ask the school to open it again.")
    _check_address_is_free(current, change.email)
    old, current.email = current.email, change.email
    current.save(update_fields=["email"])
    change.confirmed_at = now
    change.save(update_fields=["confirmed_at"])
    record(actor=current, verb="changed", thing=current, fields=["email"], now=now)
    _keep_one_address(current)
    _close_old_mailbox(current, old, now)
    prove_by_link(current, now=now)
    outbox.send_to(current.pk, in_ascii(current.email), instead_of=in_ascii(old))
    end_sessions_and_tokens(current)
    outbox.enqueue(notices.address_changed(current, old=old, now=now), now=now)
    outbox.bump_feeds(shown_to(current), now=now)
    return current


def void_changes(user: User, *, now: datetime) -> int:
    """Ends the changes of this account that wait, with their unsent links. Returns how many."""
    rows = AddressChange.objects.waiting(now).filter(user=user)
    ids = list(rows.values_list("pk", flat=True))
    for pk in ids:
        outbox.withdraw_form(f"address-change:{pk}")
    return rows.filter(pk__in=ids).update(good_until=now) if ids else 0


def _check_address_is_free(user: User, address: str) -> None:
    if User.objects.filter(email=address).exclude(pk=user.pk).exists():
        raise Refused("already-done", "Another account has that email address.", field="email")


def _close_old_mailbox(user: User, old: str, now: datetime) -> None:
    """Ends links that were sent to the old address, and sends consent forms again."""
    outbox.withdraw_resets(user.pk)
    outbox.withdraw_proofs(user.pk)
    forget_address(old)
    void(Welcome.objects.usable(now).filter(email=old), now=now)
    renew_forms(guardian=user, now=now)


def _keep_one_address(user: User) -> None:
    """Leaves only this address in allauth's own table.

    An older address in that table could still reset the password.
    """
    EmailAddress.objects.filter(email=user.email).exclude(user=user).delete()
    EmailAddress.objects.filter(user=user).exclude(email=user.email).delete()
    EmailAddress.objects.update_or_create(
        user=user, email=user.email, defaults={"primary": True, "verified": True}
    )
