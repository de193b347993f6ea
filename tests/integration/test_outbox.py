"""The outbox: kept with its change, sent once for each state, in order, with patience, and given up
aloud.
"""

from datetime import timedelta
from typing import Any

import pytest

from accounts.models import User
from bookings import outbox
from bookings.models import Meeting, OutboxMessage, SentSequence
from bookings.notices.rows import MeetingPost, row
from tests.cast import (
    NOW,
    at,
    make_meeting,
    make_offering,
    make_user,
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


def cancel(meeting: Meeting, reader: User) -> list[OutboxMessage]:
    return [
        MeetingPost(meeting, [reader], NOW).cancel(
            reader, "Off", "Words.\n", whole=True, state_key="off"
        )
    ]


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
