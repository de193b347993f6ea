"""Invitations to the school."""

from datetime import datetime

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from accounts.addresses import AddressField
from accounts.models.roles import Student


class WelcomeQuerySet(models.QuerySet["Welcome"]):
    """Invitations by state."""

    def usable(self, now: datetime) -> "WelcomeQuerySet":
        """Invitations that still work: neither used, void nor expired."""
        return self.filter(used_at__isnull=True, good_until__gt=now)


class Welcome(models.Model):
    """An invitation by email to one role, once. Only the digest of its secret is stored.

    One link may invite to several roles, such as a guardian of two children: a row for each, with
    the same digest. They are accepted together.
    """

    email = AddressField()
    name = models.CharField(max_length=120)
    secret_digest = models.CharField(max_length=64, db_index=True)
    as_admin = models.BooleanField(default=False)
    as_instructor = models.BooleanField(default=False)
    student = models.ForeignKey(
        Student,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="+",
        help_text="The invitation gives this student an account.",
    )
    guardian_of = models.ForeignKey(
        Student, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    sent_at = models.DateTimeField()
    good_until = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    objects = WelcomeQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(as_admin=True)
                | Q(as_instructor=True)
                | Q(student__isnull=False)
                | Q(guardian_of__isnull=False),
                name="welcome_gives_a_role",
            ),
            models.CheckConstraint(condition=Q(email=Lower("email")), name="welcome_email_lower"),
        ]

    def __str__(self) -> str:
        return self.email
