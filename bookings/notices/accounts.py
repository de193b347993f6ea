"""Emails about a person's account: an address to confirm, another address, another role, closed,
open again.
"""

from datetime import datetime

from django.conf import settings

from accounts.models import AddressChange, User
from bookings.models import OutboxMessage
from bookings.notices.rows import row
from bookings.notices.wording import email_text, full_time, link
from bookings.outbox import MessageKind

_OURS = "If you did not expect this, write to the school at once: {}"


def address_changed(user: User, *, old: str, now: datetime) -> list[OutboxMessage]:
    """An email to the old address, which does not name the new one, and one to the new address."""
    gone = (
        f"The email address of your account at {settings.SCHOOL_NAME} has been changed. "
        "You can no longer sign in with this address, and it no longer resets the password."
    )
    new = (
        f"You now sign in at {settings.SCHOOL_NAME} with this email address: {user.email}. "
        "You have been signed out everywhere. Your password is the same as before."
    )
    # Two subject keys: one email never waits for the other, whose mailbox may be gone.
    return [
        _row(user, "old-address", "address", "Your email address has been changed", gone, now, old),
        _row(user, "account", "address", "You sign in with this email address now", new, now),
    ]


def address_to_confirm(change: AddressChange, *, secret: str, now: datetime) -> list[OutboxMessage]:
    """A link to the new address, and news to the old one, which does not name the new one."""
    user = change.user
    asked = (
        f"The school has noted this email address for your account at {settings.SCHOOL_NAME}. "
        f"Confirm that it is yours: {link(f'/new-address/{secret}/')}"
    )
    until = (
        "Until then you sign in with your old address. "
        f"The link works once, until {full_time(change.good_until, user.zone)}."
    )
    not_you = "If this account is not yours, you need not do anything."
    to_new = row(
        user,
        MessageKind.NEW_ADDRESS,
        f"address-change:{change.pk}",
        "asked",
        title="Confirm your new email address",
        body=email_text(user.name, [asked, until, not_you], changes=""),
        now=now,
        to_address=change.email,
        good_until=change.good_until,
    )
    told = (
        f"The school has noted another email address for your account at {settings.SCHOOL_NAME}. "
        "It counts once it has been confirmed by a link that was sent there. "
        "Until then you sign in with this one."
    )
    title = "Your account is to have another email address"
    return [to_new, _row(user, "account", "address-asked", title, told, now)]


def role_changed(user: User, role: str, *, gained: bool, now: datetime) -> list[OutboxMessage]:
    """A role such as "an admin" is given or taken."""
    said = (
        f"You are now {role} at {settings.SCHOOL_NAME}. "
        "You have been signed out everywhere: sign in again to use your new role."
        if gained
        else f"You are no longer {role} at {settings.SCHOOL_NAME}."
    )
    now_or_no_longer = "now" if gained else "no longer"
    title = f"You are {now_or_no_longer} {role}"
    return [_row(user, "account", f"role:{role}:{now_or_no_longer}", title, said, now)]


def account_closed(user: User, *, why: str, now: datetime) -> list[OutboxMessage]:
    """The last email to the person whose account is closed, with the school's sentence `why`."""
    said = (
        f"Your account at {settings.SCHOOL_NAME} has been closed. You can no longer sign in, "
        "and your calendar addresses no longer work."
    )
    return [_row(user, "account", "closed", "Your account has been closed", said, now, why=why)]


def account_reopened(user: User, *, now: datetime) -> list[OutboxMessage]:
    """A closed account is open again, with its old password."""
    said = (
        f"Your account at {settings.SCHOOL_NAME} is open again. "
        "Sign in with your email address and the same password as before. "
        "Your old calendar addresses no longer work: make new ones on the page Calendars."
    )
    return [_row(user, "account", "reopened", "Your account is open again", said, now)]


def _row(
    user: User,
    thing: str,
    state: str,
    title: str,
    said: str,
    now: datetime,
    to_address: str = "",
    why: str = "",
) -> OutboxMessage:
    return row(
        user,
        MessageKind.ACCOUNT,
        f"{thing}:{user.pk}",
        f"{state}:{now:%Y%m%dT%H%M%S%f}",
        title=title,
        body=email_text(user.name, [said, why, _OURS.format(settings.ORGANIZER_EMAIL)], changes=""),
        now=now,
        to_address=to_address,
    )
