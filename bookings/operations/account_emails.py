"""Emails about a person's own account: links to a new password, and news of changes.

Like all emails they are written in the transaction of their cause and sent after the commit.
"""

from datetime import datetime, timedelta
from secrets import token_hex

from django.conf import settings

from accounts.models import User
from bookings import notices, outbox
from bookings.operations.audit import record
from bookings.operations.email_troubles import prove_by_link
from bookings.operations.ignored_mail import count_ignored

UNKNOWN_ACCOUNT = "unknown-account"


def send_password_link(*, user: User, path: str, now: datetime) -> None:
    """Sends a link to the page at `path`, which holds a secret. Older unsent links are withdrawn.

    The text is erased as soon as it has been sent. Nothing is sent where the email address has just
    been changed, because the link was made for the old one.
    """
    asked = User.objects.select_for_update(no_key=True).filter(pk=user.pk, email=user.email)
    if not asked:
        return
    outbox.withdraw_resets(user.pk)
    good_until = now + timedelta(seconds=settings.PASSWORD_RESET_TIMEOUT)
    messages = notices.password_link(
        user, path=path, key=token_hex(8), good_until=good_until, now=now
    )
    outbox.enqueue(messages, now=now)
    record(actor=None, verb="asked for a new password", thing=user, now=now)


def note_unknown_account(*, now: datetime) -> None:
    """Counts a request for a new password from an address that nobody has. Nothing is sent.

    It writes in one transaction, as a request from a known address does, so that both answers take
    about as long.
    """
    count_ignored(UNKNOWN_ACCOUNT, now=now)


def tell_of_change(*, user: User, event: notices.AccountEvent, now: datetime) -> None:
    """Tells the owner of an account what has changed.

    A new password by a link proves that the address, to which the link went, can be read.
    """
    if event == notices.AccountEvent.PASSWORD_RESET:
        prove_by_link(user, now=now)
    outbox.enqueue(notices.account_changed(user, event, key=token_hex(8), now=now), now=now)
