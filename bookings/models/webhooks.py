"""Addresses of other programs that are told what happens, and the record of how each was told."""

import uuid
from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import Q

from accounts.sealed import open_sealed, seal


class WebhookQuerySet(models.QuerySet["Webhook"]):
    """Webhooks by whether anything is sent to them."""

    def active(self) -> "WebhookQuerySet":
        """Webhooks that are not paused."""
        return self.filter(paused_at__isnull=True)

    def stopped(self) -> "WebhookQuerySet":
        """Webhooks that were paused because nothing reached them, not by an admin."""
        return self.filter(paused_why__in=[Webhook.Paused.GONE, Webhook.Paused.GIVEN_UP])


class Webhook(models.Model):
    """An address that is told of events of these `kinds`.

    Deliveries are signed with its secret, which is sealed, and until `old_until` with the one
    before as well. `failures` counts attempts in a row that failed; after one, nothing is sent
    before `waits_until`.
    """

    class Paused(models.TextChoices):
        BY_HAND = "by-hand"
        GONE = "gone"
        GIVEN_UP = "given-up"

    name = models.CharField(max_length=60)
    address = models.CharField(max_length=1000)
    kinds = models.JSONField(default=list)
    key = models.UUIDField(
        default=uuid.uuid4, editable=False, help_text="What the sealed secrets are bound to."
    )
    sealed_secret = models.BinaryField(default=b"", editable=False)
    sealed_old_secret = models.BinaryField(default=b"", blank=True, editable=False)
    old_until = models.DateTimeField(null=True, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField()
    paused_at = models.DateTimeField(null=True, blank=True)
    paused_why = models.CharField(max_length=8, choices=Paused.choices, blank=True)
    failures = models.PositiveIntegerField(default=0)
    waits_until = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = WebhookQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(paused_at__isnull=True, paused_why="")
                | Q(paused_at__isnull=False, paused_why__in=["by-hand", "gone", "given-up"]),
                name="webhook_pause_says_why",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def secret(self) -> str:
        """The secret that signs, in its written form."""
        return open_sealed(bytes(self.sealed_secret), self.bound_to())

    @secret.setter
    def secret(self, text: str) -> None:
        self.sealed_secret = seal(text, self.bound_to())

    def secrets_at(self, now: datetime) -> list[str]:
        """The secrets that sign a delivery now: the newest first, then the one before it."""
        if self.old_until is None or self.old_until <= now or not self.sealed_old_secret:
            return [self.secret]
        return [self.secret, open_sealed(bytes(self.sealed_old_secret), self.bound_to())]

    def bound_to(self) -> str:
        """What the sealed secrets are bound to."""
        return f"webhook:{self.key}:secret"


class WebhookAttempt(models.Model):
    """One attempt to deliver an event. Of an answer only its status is kept.

    `status` is null where none came; `problem` is the code of what went wrong, empty for a success.
    """

    webhook = models.ForeignKey(Webhook, on_delete=models.CASCADE, related_name="attempts")
    event_id = models.CharField(max_length=40)
    kind = models.CharField(max_length=40)
    number = models.PositiveIntegerField()
    at = models.DateTimeField(db_index=True)
    status = models.PositiveSmallIntegerField(null=True, blank=True)
    problem = models.CharField(max_length=20, blank=True)
    milliseconds = models.PositiveIntegerField()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.kind} to {self.webhook_id}: {self.status or self.problem}"
