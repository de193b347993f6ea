"""Who did what to which object, and the answers kept for requests that are sent again."""

from django.conf import settings
from django.contrib import admin
from django.db import models

from bookings.models.service_tokens import ServiceToken


class AuditRow(models.Model):
    """One act: ids, a verb and field names, never values.

    A row is added in the transaction of the act. The database refuses to change or delete one.
    Where a program acted, `token` is its service token, and `actor` the admin who made that.
    """

    at = models.DateTimeField()
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.DO_NOTHING,
        related_name="+",
        db_constraint=False,
    )
    token = models.ForeignKey(
        ServiceToken,
        null=True,
        on_delete=models.DO_NOTHING,
        related_name="+",
        db_constraint=False,
    )
    verb = models.CharField(max_length=40)
    thing = models.CharField(max_length=40)
    thing_id = models.BigIntegerField()
    fields = models.JSONField(default=list)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["thing", "thing_id"], name="audit_thing")]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.verb} {self.thing} {self.thing_id}"

    @property
    @admin.display(description="actor")
    def actor_name(self) -> str:
        """Who acted: the name of a program's token, or of a person; empty where nobody did."""
        if self.token is not None:
            return str(self.token)
        return str(self.actor) if self.actor is not None else ""

    @property
    def reason(self) -> str:
        """An admin's own sentence; empty without one, and once it has been erased."""
        why: AuditReason | None = getattr(self, "why", None)
        return why.text if why is not None else ""


class AuditReason(models.Model):
    """Why an admin acted, in their words.

    It stands beside the audit, because it may speak of a person and has to go when they do.
    """

    row = models.OneToOneField(AuditRow, on_delete=models.PROTECT, related_name="why")
    text = models.CharField(max_length=200)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.text


class KeptAnswer(models.Model):
    """The answer to a request with an Idempotency-Key. A retry within 24 hours gets the same one.

    `status` is 0 while the first request runs, and where its answer must not be kept.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    method = models.CharField(max_length=8)
    path = models.CharField(max_length=300)
    key = models.CharField(max_length=255)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=0)
    headers = models.JSONField(default=dict)
    body = models.TextField(blank=True)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["user", "method", "path", "key"], name="kept_answer_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.method} {self.path}"
