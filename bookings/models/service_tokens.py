"""Tokens with which the school's other programs use the API."""

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class ServiceTokenQuerySet(models.QuerySet["ServiceToken"]):
    """Service tokens by whether they work."""

    def working(self, now: datetime) -> "ServiceTokenQuerySet":
        """Tokens that are neither revoked nor expired, and whose maker is an admin here still."""
        return self.filter(
            revoked_at__isnull=True,
            expires_at__gt=now,
            made_by__is_active=True,
            made_by__is_staff=True,
        )


class ServiceToken(models.Model):
    """A program's way into the calls of its scopes, with the rights of the admin who made it.

    It works as long as that person is an admin here. Only the digest of its secret is stored;
    `begins` are its first characters, by which a person tells it from others.
    """

    name = models.CharField(max_length=60)
    digest = models.CharField(max_length=64, unique=True)
    begins = models.CharField(max_length=12)
    scopes = models.JSONField(default=list)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="service_tokens"
    )
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_on = models.DateField(null=True, blank=True, help_text="In UTC.")
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = ServiceTokenQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")), name="service_token_expires"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def works(self, now: datetime) -> bool:
        """Whether `working` has it, where `made_by` is there."""
        is_over = self.revoked_at is not None or self.expires_at <= now
        return not is_over and self.made_by.is_active and self.made_by.is_staff
