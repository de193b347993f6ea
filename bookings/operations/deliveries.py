"""What is kept of an attempt to deliver an event, and what follows from it."""

from datetime import datetime

import structlog

from bookings import outbox
from bookings.inbound.posting import Answered
from bookings.models import OutboxMessage, Webhook, WebhookAttempt

log = structlog.get_logger(__name__)

GONE = 410
"""RFC 9110 section 15.5.11; Standard Webhooks 1.0.0, "Delivery success and failure"."""


def note_attempt(*, delivery: OutboxMessage, answered: Answered, now: datetime) -> None:
    """Logs the attempt and marks its row: delivered, kept for later, or given up.

    Nothing is left to note where the webhook has been removed meanwhile.
    """
    locked = Webhook.objects.select_for_update(no_key=True).filter(pk=delivery.hook.pk).first()
    if locked is None:
        return
    WebhookAttempt.objects.create(
        webhook=locked,
        event_id=delivery.message_id,
        kind=delivery.kind,
        number=delivery.attempts,
        at=now,
        status=answered.status,
        problem=answered.problem,
        milliseconds=answered.milliseconds,
    )
    if not answered.problem:
        outbox.mark_delivered(delivery, now=now)
        return
    told = {"webhook": delivery.hook.pk, "problem": answered.problem, "status": answered.status}
    said = f"status {answered.status}" if answered.status else answered.problem
    hook = outbox.mark_failed(
        delivery,
        said,
        is_gone=answered.status == GONE,
        asked_to_wait=answered.wait,
        now=now,
    )
    if hook.paused_at == now and hook.paused_why != Webhook.Paused.BY_HAND:
        log.error("a webhook was paused", **told, attempts=delivery.attempts)
    else:
        log.warning("a delivery failed", **told, attempts=delivery.attempts)
