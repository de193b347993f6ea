"""The school's webhooks and how each was told, for admins."""

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from accounts.models import User
from bookings.access import not_there, require_admin
from bookings.models import OutboxMessage, Webhook, WebhookAttempt


def all_webhooks(reader: User) -> QuerySet[Webhook]:
    """Every webhook in order, with `last_at`, when it was last told, and `waiting`, how much waits.

    Refused("not-allowed") for anybody but an admin.
    """
    require_admin(reader)
    last = WebhookAttempt.objects.filter(webhook=OuterRef("pk"), problem="").order_by("-pk")
    waits = Q(deliveries__state=OutboxMessage.State.DUE)
    rows = Webhook.objects.annotate(
        last_at=Subquery(last.values("at")[:1]), waiting=Count("deliveries", filter=waits)
    )
    return rows.order_by("pk")


def one_webhook(reader: User, webhook_id: int) -> Webhook:
    """This webhook. Refused: "not-allowed", "not-found"."""
    require_admin(reader)
    found = Webhook.objects.filter(pk=webhook_id).first()
    if found is None:
        raise not_there()
    return found


def attempts_of(webhook: Webhook) -> QuerySet[WebhookAttempt]:
    """The attempts to tell it, newest first."""
    return WebhookAttempt.objects.filter(webhook=webhook).order_by("-pk")


def waiting_for(webhook: Webhook) -> int:
    """How many deliveries wait for it."""
    return OutboxMessage.objects.deliveries().unsent().filter(webhook=webhook).count()
