"""The outbox: kept with its change, sent once for each state, in order, with patience, and given up
aloud.
"""

import logging
from datetime import datetime, timedelta
from email import message_from_bytes
from typing import Any

import pytest
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction

from accounts.models import User
from bookings import outbox
from bookings.models import Meeting, OutboxMessage, SentSequence
from bookings.notices.rows import MeetingPost, row
from bookings.outbox.sending import ATTEMPTS
from bookings.outbox.sending import wait as wait_before
from tests.cast import (
    NOW,
    at,
    make_booking,
    make_instructor,
    make_meeting,
    make_offering,
    make_student,
    make_user,
)
from tests.letters import keep, value

pytestmark = pytest.mark.django_db
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


def cancel(meeting: Meeting, reader: User) -> list[OutboxMessage]:
    return [
        MeetingPost(meeting, [reader], NOW).cancel(
            reader, "Off", "Words.\n", whole=True, state_key="off"
        )
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


def test_one_state_is_kept_once(meeting: Meeting, noor: User) -> None:
    """The same four keys again are left alone, as they stood and not superseded by themselves."""
    first = invite(meeting, noor)
    keep(first, NOW)
    again = [
        row(
            noor,
            outbox.MessageKind(m.kind),
            m.subject_key,
            m.state_key,
            title="x",
            body="x",
            now=NOW,
            meeting=meeting,
        )
        for m in first
    ]
    again[0].sequence = first[0].sequence
    keep(again, NOW)
    assert states() == [("invitation", "due"), ("reminder-1h", "due")]
    assert OutboxMessage.objects.filter(title="x").count() == 0


def test_a_newer_state_supersedes_the_unsent_older_one(meeting: Meeting, noor: User) -> None:
    """Invited, changed and called off before anything left: one message goes, the last, and no
    reminder.
    """
    keep(invite(meeting, noor), NOW)
    keep(invite(meeting, noor), NOW)
    keep(cancel(meeting, noor), NOW)
    assert drain() == 1
    assert drain(meeting.starts_at - timedelta(minutes=30)) == 0
    (calendar,) = calendars()
    assert (value(calendar, "METHOD"), value(calendar, "SEQUENCE")) == ("CANCEL", "2")
    assert SentSequence.objects.get(meeting=meeting, recipient=noor).sequence == 2


def test_somebody_elses_messages_stay(meeting: Meeting, noor: User) -> None:
    """A newer invitation supersedes the reader's own older one, nobody else's and nothing about
    another meeting.
    """
    other = make_meeting(make_offering("Trial"), meeting.instructor, at("2027-03-16T21:00Z"))
    keep(
        invite(meeting, noor) + invite(meeting, meeting.instructor.user) + invite(other, noor), NOW
    )
    keep(invite(meeting, noor), NOW)
    assert [state for _, state in states()].count(State.SUPERSEDED) == 2


def test_a_cancellation_waits_for_the_invitation_that_is_on_its_way(
    meeting: Meeting, noor: User
) -> None:
    """While one worker sends the invitation another does not send the cancellation; both arrive, in
    order.
    """
    keep(invite(meeting, noor), NOW)
    (invitation,) = outbox.claim(NOW, 10)
    keep(cancel(meeting, noor), NOW)
    assert outbox.claim(NOW + timedelta(seconds=5), 10) == []
    late = outbox.claim(NOW + timedelta(minutes=3), 10)
    assert [message.kind for message in late] == ["cancellation"]
    assert invitation.kind == "invitation"


def test_superseded_while_it_is_being_sent(meeting: Meeting, noor: User) -> None:
    """A cancellation that is enqueued in the middle of a delivery leaves right after it, and each
    row says what happened.
    """
    keep(invite(meeting, noor), NOW)

    def meanwhile() -> None:
        Sink.during = None
        keep(cancel(meeting, noor), NOW)

    Sink.during = meanwhile
    assert drain() == 2
    assert states() == [
        ("invitation", "sent"),
        ("reminder-1h", "superseded"),
        ("cancellation", "sent"),
    ]


def test_a_message_that_waits_for_its_next_attempt_is_not_overtaken(
    meeting: Meeting, noor: User
) -> None:
    """Two tellings about one thing keep their order also when the first did not get through at
    once.
    """
    post = MeetingPost(meeting, [noor], NOW)
    keep(
        [post.tell(noor, "one", "First", "Words.\n"), post.tell(noor, "two", "Second", "Words.\n")],
        NOW,
    )
    Sink.refusing = True
    assert drain() == 0
    Sink.refusing = False
    assert drain(NOW + timedelta(seconds=30)) == 0
    assert drain(NOW + timedelta(minutes=2)) == 2
    assert [b"Subject: First" in mail for mail in Sink.got] == [True, False]


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
    assert (
        first["Message-ID"]
        == f"<invitation.meeting-{meeting.pk}.sequence-0.{noor.pk}@rowanmere.example>"
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


def test_texts_are_erased_after_thirty_days_and_keys_at_once(meeting: Meeting, noor: User) -> None:
    """A sent text lives 30 days; a letter that holds a key to an account loses it as soon as it has
    left.
    """
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
    assert outbox.erase_old_bodies(NOW + timedelta(days=30)) == 0
    assert outbox.erase_old_bodies(NOW + timedelta(days=30, seconds=1)) == 1
    assert not OutboxMessage.objects.exclude(body="", calendar="").exists()


def test_the_oldest_wait_is_told(meeting: Meeting, noor: User) -> None:
    """Health asks for how long the oldest due message has waited; what is not due yet does not
    count.
    """
    keep(invite(meeting, noor)[1:], NOW)
    assert outbox.oldest_due(NOW) == timedelta()
    assert outbox.oldest_due(meeting.starts_at) == timedelta(hours=1)


def test_a_nudge_never_fails(meeting: Meeting) -> None:
    """A broker that is away does not turn a booking that stands into an error."""
    outbox.nudge()
    outbox.register_notifier(lambda: 1 / 0)
    try:
        outbox.nudge()
    finally:
        outbox.register_notifier(None)


@pytest.mark.parametrize("size", [1, 12])
def test_enqueue_costs_few_queries(
    meeting: Meeting, django_assert_num_queries: Any, size: int
) -> None:
    """A first invitation with its reminder: the rows, the SEQUENCE, the look for feeds; the number
    of readers adds none.
    """
    readers = [make_user(f"Reader {number}") for number in range(size)]
    messages = [message for reader in readers for message in invite(meeting, reader)]
    with django_assert_num_queries(3):
        outbox.enqueue(messages, now=NOW)
