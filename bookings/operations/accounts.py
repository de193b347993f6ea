"""Accounts: change the name or email address, give or take the role of an admin."""

from datetime import datetime

from allauth.account.models import EmailAddress

from accounts.models import User, Welcome
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.addresses import mail_address
from bookings.domain.errors import Refused
from bookings.operations.audit import record
from bookings.operations.consents import renew_forms
from bookings.operations.invitations import void
from bookings.operations.reminders import shown_to

ADMIN = "an admin"


def change_account(
    *, actor: User, user: User, name: str | None = None, email: str | None = None, now: datetime
) -> User:
    """Changes a person's name or email address, by an admin. Both addresses get an email.

    A new address ends sessions and tokens, because somebody else may read the old mailbox. Messages
    that wait go to the new address, links to a new password become void, and consent forms are sent
    anew. Refused("already-done") where another account has that address.
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
    """Gives or takes the role of an admin: Django's two flags together.

    A new admin has to sign in again everywhere. Refused: "already-done", "already-ended" for a
    closed account, "last-admin".
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
        # Otherwise an open invitation would make them an admin again.
        void(Welcome.objects.usable(now).filter(email=current.email, as_admin=True), now=now)
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
    """Refused("last-admin") where nobody else runs the school.

    It locks all admins, so that two who leave at once cannot both go.
    """
    admins = User.objects.filter(is_staff=True, is_active=True).order_by("pk")
    left = list(admins.select_for_update(no_key=True).values_list("pk", flat=True))
    if leaving.is_staff and leaving.is_active and left == [leaving.pk]:
        raise Refused(
            "last-admin", f"{leaving.name} is the only admin. Make somebody else an admin first."
        )


def lock_account(user: User) -> User:
    """The account, locked together with all admins' accounts, by id.

    Call this after locking students and before feeds.
    """
    wanted = User.objects.filter(pk=user.pk) | User.objects.filter(is_staff=True)
    list(wanted.order_by("pk").select_for_update(no_key=True).values_list("pk"))
    return User.objects.get(pk=user.pk)


def _check_address_is_free(user: User) -> None:
    if User.objects.filter(email=user.email).exclude(pk=user.pk).exists():
        raise Refused("already-done", "Another account has that email address.", field="email")


def _close_old_mailbox(user: User, old: str, now: datetime) -> None:
    """Ends links that were sent to the old address, and sends consent forms anew."""
    outbox.withdraw_resets(user.pk)
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
