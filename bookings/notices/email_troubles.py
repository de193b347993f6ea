"""Emails about addresses that cannot be reached: to the admins, and to one that is tried again."""

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings

from accounts.models import User
from bookings.domain.email_troubles import IN_WORDS, Trouble
from bookings.models import EmailTrouble, OutboxMessage
from bookings.notices.rows import row
from bookings.notices.wording import email_text, link
from bookings.outbox import MessageKind


def addresses_unreachable(
    admin: User, troubles: Sequence[EmailTrouble], *, now: datetime
) -> list[OutboxMessage]:
    """Tells an admin which addresses cannot be reached, and why."""
    many = len(troubles) > 1
    whose = f"{len(troubles)} addresses" if many else troubles[0].address
    they_work = "the addresses work" if many else "the address works"
    told = f"Emails to {whose} wait until {they_work} again."
    do = (
        "Please ask the person for another address, or speak with them and send to the same one "
        "again."
    )
    return [
        row(
            admin,
            MessageKind.TOLD,
            "email-troubles",
            f"marked:{troubles[0].pk}:{now:%Y%m%dT%H%M%S%f}",
            title=f"Emails to {whose} wait",
            body=email_text(
                admin.name,
                [
                    told,
                    *(f"{_whose(one)}: {IN_WORDS[Trouble(one.why)]}." for one in troubles),
                    do,
                    f"See what waits: {link('/needs/address/')}",
                ],
                changes="",
            ),
            now=now,
        )
    ]


def _whose(trouble: EmailTrouble) -> str:
    name = trouble.owner.name if trouble.owner else "An invited person"
    return f"{name}, {trouble.address}"


def address_to_prove(user: User, proof: str, *, key: str, now: datetime) -> list[OutboxMessage]:
    """A link that shows that this address can be read again.

    `key` tells one request from another.
    """
    asked = (
        f"This email shows that {settings.SCHOOL_NAME} reaches you again at {user.email}. "
        "Emails that wait for you leave as soon as you say so."
    )
    not_you = "If you did not ask for this email, you need not do anything."
    return [
        row(
            user,
            MessageKind.ADDRESS,
            f"user:{user.pk}",
            f"asked:{key}",
            title="Can you read this?",
            body=email_text(
                user.name,
                [asked, f"Yes, I can read this: {link(f'/me/address/{proof}/')}", not_you],
                changes="",
            ),
            now=now,
        )
    ]
