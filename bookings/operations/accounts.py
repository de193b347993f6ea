"""Accounts: change the name and clock, give or take the role of an admin."""

from datetime import datetime

from accounts.models import User, Welcome
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.operations.audit import record
from bookings.operations.invitations import void
from bookings.operations.people import change_person, lock_me
from bookings.operations.service_tokens import revoke_all_of
from bookings.queries.accounts_of_people import one_person

ADMIN = "an admin"


def change_account(
    *,
    actor: User,
    user: User,
    name: str | None = None,
    time_zone: str | None = None,
    seen: str | None = None,
    now: datetime,
) -> User:
    """Changes a person's name and clock, by an admin. A new address: `operations.addresses`.

    `seen` is what the admin read of the person (`Person.seen`). Refused: as `check_person`.
    """
    require_admin(actor)
    lock_me(user, now=now)
    check_person(user, seen, actor=actor)
    return change_person(actor=actor, user=user, name=name, time_zone=time_zone, now=now)


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
        revoke_all_of(current, actor=actor, now=now)
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


def check_person(user: User, seen: str | None, *, actor: User) -> None:
    """Refused("stale") where a locked account is not as the admin read it (`Person.seen`).

    None for a caller who read nothing.
    """
    if seen is not None and one_person(actor, user.pk).seen != seen:
        raise Refused(
            "stale",
            f"The account of {user.name} has changed since you read it. "
            "Read it again, then decide.",
        )


def lock_account(user: User) -> User:
    """The account, locked together with all admins' accounts, by id.

    Call this after locking students and before feeds.
    """
    wanted = User.objects.filter(pk=user.pk) | User.objects.filter(is_staff=True)
    list(wanted.order_by("pk").select_for_update(no_key=True).values_list("pk"))
    return User.objects.get(pk=user.pk)
