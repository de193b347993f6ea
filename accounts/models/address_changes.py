"""A new email address of an account, which counts once its owner has opened a link sent there."""

from datetime import datetime

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from accounts.addresses import AddressField
from accounts.models.users import User


class AddressChangeQuerySet(models.QuerySet["AddressChange"]):
    """Changes of an address by state."""

    def waiting(self, now: datetime) -> "AddressChangeQuerySet":
        """Changes that the new address can still confirm: not confirmed, void or expired."""
        return self.filter(confirmed_at__isnull=True, good_until__gt=now)


class AddressChange(models.Model):
    """An address that an admin has noted for an account and that is still to be proven.

    Until it is, the account keeps its old address. Only the digest of the link's secret is stored.
    """

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="address_changes")
    email = AddressField(max_length=254)
    secret_digest = models.CharField(max_length=64, unique=True)
    asked_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    asked_at = models.DateTimeField()
    good_until = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)

    objects = AddressChangeQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(email=Lower("email")), name="address_change_email_lower"
            )
        ]

    def __str__(self) -> str:
        return self.email
