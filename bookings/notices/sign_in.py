"""Emails about how somebody signs in: a link for a new password, and what has been changed."""

from datetime import datetime
from enum import StrEnum

from django.conf import settings

from accounts.models import User
from bookings.models import OutboxMessage
from bookings.notices.rows import row
from bookings.notices.wording import email_text, full_time, link
from bookings.outbox import MessageKind

_RESET = "/accounts/password/reset/"


class AccountEvent(StrEnum):
    """A change of an account about which its owner gets an email."""

    PASSWORD_CHANGED = "password-changed"  # noqa: S105  a name
    PASSWORD_RESET = "password-reset"  # noqa: S105  a name
    SECOND_FACTOR_ADDED = "second-factor-added"
    SECOND_FACTOR_REMOVED = "second-factor-removed"
    RECOVERY_CODES_MADE = "recovery-codes-made"


_TITLES = {
    AccountEvent.PASSWORD_CHANGED: "Your password was changed",
    AccountEvent.PASSWORD_RESET: "Your password was changed",
    AccountEvent.SECOND_FACTOR_ADDED: "A second factor was added",
    AccountEvent.SECOND_FACTOR_REMOVED: "The second factor was removed",
    AccountEvent.RECOVERY_CODES_MADE: "New recovery codes were made",
}
_MEANS = {
    AccountEvent.PASSWORD_CHANGED: "The old password no longer works.",
    AccountEvent.PASSWORD_RESET: "The old password no longer works.",
    AccountEvent.SECOND_FACTOR_ADDED: (
        "From now on signing in also asks for a code from your authenticator app."
    ),
    AccountEvent.SECOND_FACTOR_REMOVED: "Signing in no longer asks for a code.",
    AccountEvent.RECOVERY_CODES_MADE: "The old recovery codes no longer work.",
}


def password_link(
    user: User, *, path: str, key: str, good_until: datetime, now: datetime
) -> list[OutboxMessage]:
    """A link to the page for a new password. `key` tells one request from another."""
    asked = (
        "You, or somebody else, asked for a new password for your account at "
        f"{settings.SCHOOL_NAME}."
    )
    here = f"Choose a new password: {link(path)}"
    until = f"The link is yours alone. It works once, until {full_time(good_until, user.zone)}."
    not_you = "If you did not ask, you need not do anything: your password has not changed."
    return [
        row(
            user,
            MessageKind.RESET,
            f"user:{user.pk}",
            f"asked:{key}",
            title="Choose a new password",
            body=email_text(user.name, [asked, here, until, not_you], changes=""),
            now=now,
            good_until=good_until,
        )
    ]


def account_changed(
    user: User, event: AccountEvent, *, key: str, now: datetime
) -> list[OutboxMessage]:
    """Tells the owner, who may notice a change by somebody else."""
    happened = f"{_TITLES[event]} on {full_time(now, user.zone)}. {_MEANS[event]}"
    not_you = (
        "If this was not you, choose a new password at once, "
        f"and write to {settings.ORGANIZER_EMAIL}."
    )
    choose = f"Choose a new password: {link(_RESET)}"
    return [
        row(
            user,
            MessageKind.ACCOUNT,
            f"user:{user.pk}",
            f"{event}:{key}",
            title=_TITLES[event],
            body=email_text(user.name, [happened, not_you, choose], changes=""),
            now=now,
        )
    ]
