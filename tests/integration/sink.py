"""A mail server that keeps what it is sent, and messages for it."""

from datetime import datetime, timedelta
from email import message_from_bytes
from typing import Any

import pytest
from django.core.mail.backends.base import BaseEmailBackend

from accounts.models import User
from bookings import outbox
from bookings.models import Meeting, OutboxMessage
from bookings.notices.rows import MeetingPost
from tests.cast import (
    NOW,
    at,
    make_instructor,
    make_meeting,
    make_offering,
    make_student,
)

State = OutboxMessage.State


class Sink(BaseEmailBackend):
    """A mail server that keeps what it gets; `refusing` makes it fail, `during` is called in the
    middle of a delivery.
    """

    got: list[bytes] = []
    refusing = False
    during: Any = None

    def send_messages(self, messages: Any) -> int:
        for message in messages:
            if Sink.during is not None:
                Sink.during()
            if Sink.refusing:
                raise ConnectionError("no route to the mail server")
            Sink.got.append(message.message().as_bytes(linesep="\r\n"))
        return len(messages)


@pytest.fixture(autouse=True)
def sink(settings: Any) -> type[Sink]:
    settings.EMAIL_BACKEND = f"{__name__}.Sink"
    Sink.got, Sink.refusing, Sink.during = [], False, None
    return Sink


@pytest.fixture
def meeting() -> Meeting:
    return make_meeting(make_offering(), make_instructor(), at("2027-03-15T21:00Z"))


@pytest.fixture
def noor() -> User:
    user = make_student().user
    assert user is not None
    return user


def drain(now: datetime = NOW) -> int:
    return outbox.drain(lambda: now)


def invite(meeting: Meeting, reader: User) -> list[OutboxMessage]:
    """The next invitation and its reminder."""
    post = MeetingPost(meeting, [reader], NOW)
    due_at = meeting.starts_at - timedelta(hours=1)
    return [
        post.invite(reader, "Booked", "Words.\n"),
        post.remind(reader, outbox.MessageKind.REMINDER_HOUR, due_at, "Soon", "Words.\n"),
    ]


def calendars() -> list[str]:
    """The calendar part of each mail that arrived."""
    parts = (
        part
        for mail in Sink.got
        for part in message_from_bytes(mail).walk()
        if part.get_content_type() == "text/calendar"
    )
    return [part.get_payload(decode=True).decode() for part in parts]


def states() -> list[tuple[str, str]]:
    return list(OutboxMessage.objects.order_by("pk").values_list("kind", "state"))
