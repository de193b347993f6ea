"""Emails that leave and come back, for the tests of addresses that cannot be reached."""

from datetime import timedelta
from typing import Any

import pytest

from accounts.models import User
from bookings import clock, outbox
from bookings.models import OutboxMessage
from bookings.notices.rows import row
from bookings.outbox.tracing import return_path
from tests.cast import NOW, make_user
from tests.integration.mailed import receive
from tests.integration.refusing import Refusing
from tests.letters import keep
from tests.unit.mail_reports import report

State = OutboxMessage.State
GONE = "Reporting-MTA: dns; a.example\n\nFinal-Recipient: rfc822;{}\nAction: failed\nStatus: {}\n"
LATE = GONE.replace("failed", "delayed")
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def server(settings: Any, monkeypatch: pytest.MonkeyPatch) -> type[Refusing]:
    settings.EMAIL_BACKEND = "tests.integration.refusing.Refusing"
    settings.BOUNCE_ADDRESS = "lessons+{key}@rowanmere.example"
    monkeypatch.setattr(clock, "now", lambda: NOW)
    Refusing.error = None
    return Refusing


@pytest.fixture
def noor() -> User:
    return make_user("Noor Ashgrove", email="noor@ashgrove.example")


def told(reader: User, key: str = "x", kind: Any = outbox.MessageKind.TOLD) -> OutboxMessage:
    """One message that is due."""
    keep([row(reader, kind, key, key, title="x", body="Words.\n", now=clock.now())], clock.now())
    return OutboxMessage.objects.get(subject_key=key)


def sent(reader: User, key: str = "x") -> OutboxMessage:
    """One message that has left."""
    message = told(reader, key)
    outbox.drain(clock.now)
    message.refresh_from_db()
    assert message.state == State.SENT
    return message


def came_back(message: OutboxMessage, monkeypatch: Any, fields: str = "", **options: Any) -> None:
    """A mail server reports to the return path that the message was not delivered."""
    fields = fields or GONE.format(message.to_address, "5.1.1")
    to = options.pop("to", return_path(message))
    receive(report(fields, **options), monkeypatch, to=to, sender="")


def returned(message: OutboxMessage) -> str:
    """The headers of the message as a server returns them."""
    return f"Message-ID: {message.message_id}\nTo: {message.to_address}\n\nWords.\n"
