"""Reading messages in tests: without the library that wrote their calendars."""

from datetime import datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path

from django.db import transaction

from accounts.models import User
from bookings import outbox
from bookings.models import OutboxMessage


def value(calendar: str, name: str) -> str | None:
    """The first property of that name, unfolded (RFC 5545 section 3.1), with its parameters before
    the colon left out.
    """
    for line in calendar.replace("\r\n ", "").split("\r\n"):
        key, _, text = line.partition(":")
        if key.partition(";")[0] == name and not (name == "DTSTART" and "VTIMEZONE" in text):
            return text
    return None


def keep(messages: list[OutboxMessage], now: datetime) -> list[OutboxMessage]:
    """Enqueues as an operation does, and hands the same messages back."""
    with transaction.atomic():
        outbox.enqueue(messages, now=now)
    return messages


def to(messages: list[OutboxMessage], reader: User) -> dict[str, OutboxMessage]:
    """What one reader gets, by kind; more than one of a kind is a fault."""
    theirs = [message for message in messages if message.recipient == reader]
    assert len({message.kind for message in theirs}) == len(theirs)
    return {str(message.kind): message for message in theirs}


def written(folder: Path) -> list[EmailMessage]:
    """The mails in the files of Django's file backend, which parts them by a line of dashes."""
    rows = [
        part
        for path in sorted(folder.glob("*.log"))
        for part in path.read_bytes().split(b"\n" + b"-" * 79 + b"\n")
    ]
    return [message_from_bytes(row, policy=policy.SMTP) for row in rows if row.strip()]
