"""Deliveries: signed, tried again, given up and logged, whatever the receiver does."""

import json
from datetime import datetime, timedelta

import pytest

from bookings import outbox
from bookings.domain.errors import Refused
from bookings.domain.events import Event
from bookings.inbound.posting import Answered
from bookings.models import OutboxMessage, Webhook, WebhookAttempt
from bookings.operations.webhooks import (
    forget_old_secrets,
    pause_webhook,
    remove_webhook,
    renew_secret,
    resume_webhook,
    send_test,
)
from bookings.outbox.sending import ATTEMPTS
from tests.cast import NOW
from tests.school.webhooks import ADDRESS, Story, signed

pytestmark = pytest.mark.django_db


@pytest.fixture
def story(monkeypatch: pytest.MonkeyPatch) -> Story:
    return Story(monkeypatch)


def test_a_new_webhook_is_sent_a_test_that_its_secret_signs(story: Story) -> None:
    """Source: Standard Webhooks 1.0.0, "Signature scheme" and "Webhook headers"."""
    assert story.round() == 1
    address, fields, body = story.receiver.got[0]
    assert (address, set(fields)) == (
        ADDRESS,
        {"webhook-id", "webhook-timestamp", "webhook-signature"},
    )
    assert json.loads(body)["type"] == "webhook.tested"
    assert json.loads(body)["data"] == {"id": story.hook.pk}
    assert signed(story, story.secret)
    assert story.round() == 0
    logged = WebhookAttempt.objects.get()
    assert (logged.status, logged.problem, logged.number, logged.milliseconds) == (204, "", 1, 12)


def test_the_same_event_is_sent_again_with_a_new_timestamp(story: Story) -> None:
    """The id and the body stay, the time and the signature are the attempt's.

    Source: Standard Webhooks 1.0.0, "Webhook metadata".
    """
    story.receiver.fails()
    story.round()
    assert story.round(timedelta(seconds=30)) == 0
    story.receiver.says = lambda: Answered(200, "", 5)
    assert story.round(timedelta(seconds=60)) == 1
    (_, first, body), (_, second, again) = story.receiver.got
    assert (first["webhook-id"], body) == (second["webhook-id"], again)
    assert int(second["webhook-timestamp"]) - int(first["webhook-timestamp"]) == 90
    assert first["webhook-signature"] != second["webhook-signature"]
    assert story.row().state == OutboxMessage.State.SENT
    assert story.fresh().failures == 0


def test_a_receiver_that_fails_for_a_day_is_paused_and_its_row_given_up(story: Story) -> None:
    """Retried ever more seldom; then an admin is told (test_needs) and nothing more is sent."""
    story.receiver.fails(status=None, problem="slow")
    while story.fresh().paused_at is None:
        story.round(timedelta(minutes=10))
        assert story.now < NOW + timedelta(hours=30)
    assert len(story.receiver.got) == ATTEMPTS
    assert story.now > NOW + timedelta(hours=22)
    assert story.fresh().paused_why == Webhook.Paused.GIVEN_UP
    assert story.row().state == OutboxMessage.State.GIVEN_UP
    outbox.enqueue_events([(Event.BOOKING_MADE, 7)], now=story.now)
    assert story.round(timedelta(days=1)) == 0


def test_gone_pauses_at_once(story: Story) -> None:
    """Source: Standard Webhooks 1.0.0, "Delivery success and failure": 410."""
    story.receiver.fails(410)
    story.round()
    assert story.fresh().paused_why == Webhook.Paused.GONE
    assert story.row().state == OutboxMessage.State.GIVEN_UP


@pytest.mark.parametrize("status", [301, 302, 308, 400, 404, 429, 500, 503])
def test_any_other_answer_than_2xx_is_tried_again(story: Story, status: int) -> None:
    """Redirects too: a new address is typed by an admin, not by a receiver."""
    story.receiver.fails(status)
    story.round()
    row = story.row()
    assert (row.state, row.last_error) == (OutboxMessage.State.DUE, f"status {status}")
    assert story.fresh().paused_at is None


def test_a_receiver_says_how_long_to_wait_and_is_heard_for_a_day_at_most(story: Story) -> None:
    """RFC 9110 section 10.2.3, Retry-After."""
    story.receiver.fails(503, wait=timedelta(hours=3))
    story.round()
    assert story.round(timedelta(hours=2, minutes=59)) == 0
    story.receiver.fails(503, wait=timedelta(days=400))
    assert story.round(timedelta(minutes=2)) == 1
    assert story.fresh().waits_until == story.now + timedelta(days=1)


def test_one_event_that_always_fails_holds_up_no_other(story: Story) -> None:
    """It is given up alone after as many attempts; the webhook goes on."""
    outbox.enqueue_events([(Event.BOOKING_MADE, 7)], now=story.now)
    test = OutboxMessage.objects.deliveries().earliest("pk").message_id

    def answer() -> Answered:
        is_test = story.receiver.got[-1][1]["webhook-id"] == test
        return Answered(500, "status", 9) if is_test else Answered(200, "", 9)

    story.receiver.says = answer
    for _ in range(140):
        outbox.enqueue_events([(Event.BOOKING_MADE, 8)], now=story.now)
        story.round(timedelta(minutes=15))
    states = OutboxMessage.objects.deliveries()
    assert states.get(message_id=test).state == OutboxMessage.State.GIVEN_UP
    assert not states.exclude(message_id=test).exclude(state="sent").exists()
    assert story.fresh().paused_at is None


def test_a_failing_receiver_is_asked_once_a_round_however_much_waits_for_it(story: Story) -> None:
    """While one delivery has failed, the others to the same address wait with it."""
    for number in range(30):
        outbox.enqueue_events([(Event.BOOKING_MADE, number)], now=story.now)
    other, _ = story.made("Reception")
    story.receiver.fails()
    assert story.round() == 2
    asked = WebhookAttempt.objects.values_list("webhook", flat=True)
    assert sorted(asked) == sorted([story.hook.pk, other.pk])


def test_for_a_day_after_a_change_both_secrets_sign(story: Story) -> None:
    """Source: Standard Webhooks 1.0.0, "Webhook headers": rotation without a gap."""
    _, renewed = story.act(renew_secret)
    story.round()
    assert signed(story, story.secret) and signed(story, renewed)
    story.now += timedelta(hours=24)
    story.act(send_test)
    story.round()
    assert signed(story, renewed) and not signed(story, story.secret)
    forget_old_secrets(now=story.now)
    assert bytes(story.fresh().sealed_old_secret) == b""


def test_a_pause_by_hand_keeps_what_waits_until_it_is_resumed(story: Story) -> None:
    """What happens meanwhile is not told; a test is refused."""
    story.act(pause_webhook)
    assert story.round(timedelta(days=2)) == 0
    outbox.enqueue_events([(Event.BOOKING_MADE, 7)], now=story.now)
    with pytest.raises(Refused, match="already-ended"):
        story.act(send_test)
    story.act(resume_webhook)
    assert story.round() == 1


def test_a_webhook_removed_while_it_is_told_leaves_nothing(story: Story) -> None:
    """The answer comes late: nothing is logged and nothing is left to send."""

    def answer() -> Answered:
        story.act(remove_webhook)
        return Answered(500, "status", 3)

    story.receiver.says = answer
    assert story.round() == 1
    assert not WebhookAttempt.objects.exists()
    assert not OutboxMessage.objects.deliveries().exists()


def test_a_delivery_comes_back_where_its_worker_dies(story: Story) -> None:
    """The lease of two minutes; the webhook waits for it."""
    assert outbox.claim_delivery(story.now) is not None
    assert outbox.claim_delivery(story.now) is None
    later: datetime = story.now + timedelta(minutes=3)
    assert outbox.claim_delivery(later) is not None
