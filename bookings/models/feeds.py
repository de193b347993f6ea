"""Calendar subscriptions: a secret address a person may renew or revoke."""

from django.db import models

from accounts.models import User


class Feed(models.Model):
    """One subscription. Only the SHA-256 of the secret is stored; `revision` rises with every change of what it shows."""

    owner = models.ForeignKey(User, on_delete=models.CASCADE, related_name="feeds")
    label = models.CharField(max_length=60)
    secret_digest = models.CharField(max_length=64, unique=True)
    revision = models.PositiveBigIntegerField(default=1)
    revised_at = models.DateTimeField()
    opened_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.label} of {self.owner}"
