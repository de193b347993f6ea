"""Email addresses that our emails do not reach."""

from django.db import models
from django.db.models import Q

from accounts.models import User


class EmailTroubleQuerySet(models.QuerySet["EmailTrouble"]):
    """Troubles by whether they stop emails."""

    def marked(self) -> "EmailTroubleQuerySet":
        """Addresses to which no email leaves."""
        return self.filter(marked_at__isnull=False)

    def untold(self) -> "EmailTroubleQuerySet":
        """Marked addresses of which no admin has been told."""
        return self.marked().filter(told_at__isnull=True)


class EmailTrouble(models.Model):
    """What mail servers reported of one address; the row is deleted once the address is proven.

    `address` is in lower case and its domain in ASCII, as emails carry it. `owner` is the account
    with that address, None for an invitation. `status` is that of RFC 3463, empty where none was
    given. `days` counts the days with trouble that may pass, up to `last_on` (UTC). Emails to the
    address wait from `marked_at` on.
    """

    class Why(models.TextChoices):
        GONE = "gone"
        REPEATED = "repeated"
        COMPLAINT = "complaint"

    address = models.EmailField(unique=True)
    owner = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    why = models.CharField(max_length=9, choices=Why.choices, blank=True)
    status = models.CharField(max_length=11, blank=True)
    days = models.PositiveSmallIntegerField(default=0)
    last_on = models.DateField()
    marked_at = models.DateTimeField(null=True, blank=True)
    told_at = models.DateTimeField(null=True, blank=True)

    objects = EmailTroubleQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(marked_at__isnull=True, why="")
                | Q(marked_at__isnull=False, why__in=["gone", "repeated", "complaint"]),
                name="email_trouble_says_why",
            ),
        ]

    def __str__(self) -> str:
        return self.address
