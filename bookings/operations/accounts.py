"""Accounts: another name or email address, and the role of an admin given or taken."""

from datetime import datetime

from allauth.account.models import EmailAddress

from accounts.models import User
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.addresses import mail_address
from bookings.domain.errors import Refused
from bookings.operations.audit import record
from bookings.operations.consents import renew_forms
from bookings.operations.invitations import open_invitations, void
from bookings.operations.reminders import shown_to

ADMIN = "an admin"


def change_account(
    *, actor: User, user: User, name: str | None = None, email: str | None = None, now: datetime
) -> User:
    """Another name or email address for a person, by an admin. The old address is told, and opens nothing any more.

    Another address ends the person's sessions and tokens: whoever reads the old mailbox may hold them. What waits to be
    sent goes to the new one; links to a new password are void, and forms of consent are mailed anew.
    Refused: "already-done" where another account has that address.
    """
    require_admin(actor)
    current = lock_account(user)
    old, changed = current.email, []
    if name is not None and name != current.name:
        current.name = name
        changed.append("name")
    if email is not None and mail_address(email) != old:
        current.email = mail_address(email)
        _check_address_is_free(current)
        changed.append("email")
    if not changed:
        return current
    current.save(update_fields=changed)
    record(actor=actor, verb="changed", thing=current, fields=changed, now=now)
    if "email" in changed:
        _keep_one_address(current)
        _close_old_mailbox(current, old, now)
        outbox.send_to(
            current.pk, notices.in_ascii(current.email), instead_of=notices.in_ascii(old)
        )
        end_sessions_and_tokens(current)
        outbox.enqueue(notices.address_changed(current, old=old, now=now), now=now)
    outbox.bump_feeds(shown_to(current), now=now)
    return current


def change_admin(*, actor: User, user: User, is_admin: bool, now: datetime) -> User:
    """Makes somebody an admin, or an admin no longer; both flags of Django's go together.

    A new admin signs in again everywhere. Refused: "already-done", "already-ended" for a closed account, "last-admin".
    """
    require_admin(actor)
    current = lock_account(user)
    if current.is_staff == is_admin:
        held = "is an admin already" if is_admin else "is no admin"
        raise Refused("already-done", f"{current.name} {held}.")
    if is_admin and not current.is_active:
        raise Refused("already-ended", "This account is closed: open it again first.")
    if not is_admin:
        check_admin_is_left(current)
        # Else an invitation that is still open would make them an admin again.
        void(open_invitations(now).filter(email=current.email, as_admin=True), now=now)
    current.is_staff = current.is_superuser = is_admin
    current.save(update_fields=["is_staff", "is_superuser"])
    if is_admin:
        end_sessions_and_tokens(current)
    verb = "made admin" if is_admin else "made no admin"
    record(actor=actor, verb=verb, thing=current, fields=["is_staff", "is_superuser"], now=now)
    messages = notices.role_changed(current, ADMIN, gained=is_admin, now=now)
    outbox.enqueue(messages, now=now)
    outbox.bump_feeds([current.pk], now=now)
    return current


def check_admin_is_left(leaving: User) -> None:
    """Refused("last-admin") where nobody else would run the school. Locks all admins by id, so that of two who go one stays."""
    admins = User.objects.filter(is_staff=True, is_active=True).order_by("pk")
    left = list(admins.select_for_update(no_key=True).values_list("pk", flat=True))
    if leaving.is_staff and leaving.is_active and left == [leaving.pk]:
        raise Refused(
            "last-admin", f"{leaving.name} is the only admin. Make somebody else an admin first."
        )


def lock_account(user: User) -> User:
    """The person as they stand; after students, before feeds, and all admins with them so that the order is one."""
    wanted = User.objects.filter(pk=user.pk) | User.objects.filter(is_staff=True)
    list(wanted.order_by("pk").select_for_update(no_key=True).values_list("pk"))
    return User.objects.get(pk=user.pk)


def _check_address_is_free(user: User) -> None:
    if User.objects.filter(email=user.email).exclude(pk=user.pk).exists():
        raise Refused("already-done", "Another account has that email address.", field="email")


def _close_old_mailbox(user: User, old: str, now: datetime) -> None:
    """What was mailed there opens nothing any more, nor do unsent links to a new password; consent forms are mailed anew."""
    outbox.withdraw_resets(user.pk)
    void(open_invitations(now).filter(email=old), now=now)
    renew_forms(guardian=user, now=now)


def _keep_one_address(user: User) -> None:
    """Leaves the library's own table with this address alone: an older one there would go on resetting the password."""
    EmailAddress.objects.filter(email=user.email).exclude(user=user).delete()
    EmailAddress.objects.filter(user=user).exclude(email=user.email).delete()
    EmailAddress.objects.update_or_create(
        user=user, email=user.email, defaults={"primary": True, "verified": True}
    )
