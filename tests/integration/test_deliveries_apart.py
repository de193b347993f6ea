"""Emails and deliveries share the outbox, and neither waits for the other."""

import threading
from collections.abc import Mapping

import pytest

from bookings import delivering, outbox
from bookings.inbound.posting import Answered
from bookings.models import WebhookAttempt
from bookings.notices.accounts import role_changed
from tests import cast
from tests.letters import keep
from tests.school.webhooks import Story


@pytest.mark.django_db(transaction=True)
def test_fifty_emails_leave_while_twenty_receivers_hang(
    monkeypatch: pytest.MonkeyPatch, mailoutbox: list[object]
) -> None:
    """Emails are not behind deliveries: all leave while the first of these hang, four at once."""
    story = Story(monkeypatch)
    over, begun = threading.Event(), threading.Barrier(delivering.AT_ONCE + 1)

    def hang(address: str, fields: Mapping[str, str], body: bytes) -> Answered:
        if not over.is_set():
            begun.wait(10)  # all threads are inside a delivery now, and none has ended
            over.wait(10)
        return Answered(None, "slow", 15_000)

    for number in range(19):
        story.made(f"Receiver {number}")
    for number in range(50):
        reader = cast.make_user(f"Reader {number}")
        keep(role_changed(reader, "an admin", gained=True, now=story.now), story.now)
    at_work = threading.Thread(target=delivering.deliver_due, kwargs={"posting": hang})
    at_work.start()
    begun.wait(10)
    assert outbox.drain(lambda: story.now) == 50
    assert len(mailoutbox) == 50
    assert WebhookAttempt.objects.count() == 0
    over.set()
    at_work.join(30)
    assert not at_work.is_alive()
    assert WebhookAttempt.objects.count() == 20
