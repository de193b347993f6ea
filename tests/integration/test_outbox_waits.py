"""When a message leaves: attempts, crashes, nights, and people who are gone."""

import logging
from datetime import timedelta
from email import message_from_bytes
from typing import Any

import pytest
from django.db import transaction

from accounts.models import User
from bookings import outbox
from bookings.models import Meeting, OutboxMessage
from bookings.notices.rows import MeetingPost, row
from bookings.outbox.sending import ATTEMPTS
from bookings.outbox.sending import wait as wait_before
from bookings.outbox.tracing import sealed_id
from tests.cast import (
    NOW,
    at,
    make_booking,
)
from tests.integration.sink import (
    Sink,
    State,
    calendars,
    drain,
    invite,
    meeting,
    noor,
    sink,
    states,
)
from tests.letters import keep, value

__all__ = ["meeting", "noor", "sink"]
pytestmark = pytest.mark.django_db


def test_waits_double_to_an_hour_and_after_a_day_it_is_given_up_aloud(
    meeting: Meeting, noor: User, caplog: Any
) -> None:
    """One minute, two, four and so on, at most an hour and a tenth; after about 24 hours an error
    is logged without the address.
    """
    keep(invite(meeting, noor)[:1], NOW)
    Sink.refusing = True
    now, waits = NOW, []
    with caplog.at_level(logging.ERROR):
        for _ in range(ATTEMPTS):
            drain(now)
            message = OutboxMessage.objects.get()
            if message.state == State.DUE:
                waits.append(message.due_at - now)
                now = message.due_at
    assert waits[0] < timedelta(minutes=1.2)
    assert all(
        timedelta(minutes=2**n) <= waited <= 1.1 * timedelta(minutes=2**n)
        for n, waited in enumerate(waits[:6])
    )
    assert max(waits) <= timedelta(minutes=66)
    assert timedelta(hours=22) < now - NOW < timedelta(hours=26)
    message = OutboxMessage.objects.get()
    assert (message.state, message.attempts) == (State.GIVEN_UP, ATTEMPTS)
    assert message.last_error == "ConnectionError"
    assert "given up" in caplog.text
    assert noor.email not in caplog.text


def test_attempts_are_spread() -> None:
    """What failed together does not come back in one moment."""
    user = User(pk=1, email="a@rowanmere.example")
    messages = [
        row(user, outbox.MessageKind.TOLD, "x", "x", title="x", body="x", now=NOW)
        for _ in range(11)
    ]
    for number, message in enumerate(messages):
        message.pk, message.attempts = number, 1
    assert len({wait_before(message) for message in messages}) == 11


def test_after_a_crash_the_same_message_leaves_again(meeting: Meeting, noor: User) -> None:
    """A worker that died before it could mark is followed by another after two minutes: headers and
    calendar are equal.
    """
    keep(invite(meeting, noor)[:1], NOW)
    (claimed,) = outbox.claim(NOW, 1)
    outbox.send(claimed)
    assert drain(NOW + timedelta(minutes=1)) == 0
    assert drain(NOW + timedelta(minutes=2)) == 1
    first, second = (message_from_bytes(mail) for mail in Sink.got)
    assert first["Message-ID"] == sealed_id(
        f"invitation.meeting-{meeting.pk}.sequence-0.{noor.pk}", noor.email
    )
    assert [first[name] for name in ("Message-ID", "Date", "Subject")] == [
        second[name] for name in ("Message-ID", "Date", "Subject")
    ]
    assert len(set(calendars())) == 1
    assert value(calendars()[0], "DTSTAMP") == "20270301T090000Z"


def test_nothing_leaves_for_work_that_was_rolled_back(meeting: Meeting, noor: User) -> None:
    """The message lives and dies with its change."""
    with transaction.atomic():
        outbox.enqueue(invite(meeting, noor), now=NOW)
        transaction.set_rollback(True)
    assert drain() == 0


def test_too_late_is_never(meeting: Meeting, noor: User) -> None:
    """A reminder that could not leave before the meeting began does not leave at all."""
    keep(invite(meeting, noor)[1:], NOW)
    assert drain(meeting.starts_at + timedelta(minutes=1)) == 0
    assert states() == [("reminder-1h", "superseded")]


def test_a_reminder_held_up_until_the_night_waits_for_the_morning(
    meeting: Meeting, noor: User
) -> None:
    """A mail server that comes back at 23:00 wakes nobody; 22:00 to 08:00 of the reader's clock is
    quiet.
    """
    make_booking(meeting, noor.student)
    post = MeetingPost(meeting, [noor], NOW)
    keep(
        [
            post.remind(
                noor, outbox.MessageKind.REMINDER_DAY, at("2027-03-14T21:00Z"), "Soon", "Words.\n"
            )
        ],
        NOW,
    )
    assert drain(at("2027-03-15T03:00Z")) == 0
    message = OutboxMessage.objects.get()
    assert (message.due_at, message.attempts) == (at("2027-03-15T12:00Z"), 0)
    assert drain(at("2027-03-15T12:00Z")) == 1


def test_somebody_deactivated_is_not_written_to(meeting: Meeting, noor: User) -> None:
    """What was kept for a person who may no longer sign in does not leave."""
    keep(invite(meeting, noor), NOW)
    noor.is_active = False
    noor.save()
    assert drain() == 0
    assert states()[0] == ("invitation", "superseded")


def test_a_key_to_an_account_is_erased_as_soon_as_it_has_left(meeting: Meeting, noor: User) -> None:
    """Other texts stay for their retention time."""
    keep(
        [
            *invite(meeting, noor)[:1],
            row(
                noor,
                outbox.MessageKind.WELCOME,
                "welcome:1",
                "sent",
                title="x",
                body="key\n",
                now=NOW,
            ),
        ],
        NOW,
    )
    assert drain() == 2
    assert OutboxMessage.objects.get(kind="welcome").body == ""
    assert OutboxMessage.objects.exclude(body="", calendar="").exists()


def test_the_oldest_wait_is_told(meeting: Meeting, noor: User) -> None:
    """Health asks for how long the oldest due message has waited; what is not due yet does not
    count.
    """
    keep(invite(meeting, noor)[1:], NOW)
    assert outbox.oldest_due(NOW) == timedelta()
    assert outbox.oldest_due(meeting.starts_at) == timedelta(hours=1)
