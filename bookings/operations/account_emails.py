"""Emails about somebody's own account leave as all others do: kept with what caused them, sent
after the commit.
"""

from datetime import datetime, timedelta
from secrets import token_hex

from django.conf import settings

from accounts.models import User
from bookings import notices, outbox
from bookings.operations.audit import record
from bookings.operations.ignored import count_ignored

UNKNOWN_ACCOUNT = "unknown-account"


def send_password_link(*, user: User, path: str, now: datetime) -> None:
    """One email with the page at `path`, which holds a secret; a link that has not left yet is
    withdrawn.

    The row's text is erased as soon as it has left, and the audit names the account only. Nothing
    is sent where the address has just been changed: the link was made for the one of before.
    """
    asked = User.objects.select_for_update(no_key=True).filter(pk=user.pk, email=user.email)
    if not asked:
        return
    outbox.withdraw_resets(user.pk)
    good_until = now + timedelta(seconds=settings.PASSWORD_RESET_TIMEOUT)
    told = notices.password_link(user, path=path, key=token_hex(8), good_until=good_until, now=now)
    outbox.enqueue(told, now=now)
    record(actor=None, verb="asked for a new password", thing=user, now=now)


def note_unknown_account(*, now: datetime) -> None:
    """Nobody has the address from which a new password was asked for: nothing is sent, and it is
    counted.

    One transaction that writes, as for an address that somebody has, so that the answer takes about
    as long.
    """
    count_ignored(UNKNOWN_ACCOUNT, now=now)


def tell_of_change(*, user: User, event: notices.AccountEvent, now: datetime) -> None:
    """Tells the owner of an account what was changed at it."""
    outbox.enqueue(notices.account_changed(user, event, key=token_hex(8), now=now), now=now)
