"""Accounts, and the secrets and names that go with them."""

import hashlib
import secrets
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.crypto import salted_hmac
from timezone_field import TimeZoneField

from accounts.addresses import AddressField


def digest(secret: str) -> str:
    """SHA-256 of a 256-bit secret, in hex. It is stored in place of the secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


def new_secret() -> str:
    """256 random bits, safe in a web address."""
    return secrets.token_urlsafe(32)


def first_word(name: str) -> str:
    """The name that strangers read: "Posy" of "Posy Lindqvist-Reed", whatever the blank between."""
    return (name.split(maxsplit=1) or [""])[0]


class UserManager(BaseUserManager["User"]):
    """Creates people by email address."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "User":
        """A person with that address. Without a password they cannot sign in with one."""
        user = self.model(email=email, **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **fields: Any) -> "User":
        """An admin for whom Django's own permission checks always pass."""
        return self.create_user(
            email, password, **{**fields, "is_staff": True, "is_superuser": True}
        )

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(email=(username or "").lower())


class User(AbstractBaseUser, PermissionsMixin):
    """An account. Roles follow from the rows that point here; `is_staff` is the admin role."""

    email = AddressField(max_length=254)
    name = models.CharField(max_length=120)
    time_zone = TimeZoneField(default="UTC")
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField("admin", default=False)
    joined_at = models.DateTimeField(null=True, blank=True)
    # Part of every session's hash: a higher number ends all sessions. See accounts.sessions.
    session_epoch = models.PositiveIntegerField(default=0, editable=False)

    # No column: the id of the service token through which a program acts with this admin's rights
    # in the present request; None where the person acts.
    acts_through: int | None = None

    objects = UserManager()
    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name", "time_zone"]

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(Lower("email"), name="user_email_unique"),
            models.CheckConstraint(condition=Q(email=Lower("email")), name="user_email_lower"),
            # The admin role is both of Django's flags, or neither.
            models.CheckConstraint(
                condition=Q(is_staff=F("is_superuser")), name="user_admin_is_whole"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return first_word(self.name)

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """The hash that a session must match: a new password or a new epoch ends the session."""
        # Overridden here and not in get_session_auth_hash, so that the fallback keys include it
        # too.
        held = f"{self.password}|{self.session_epoch}"
        return salted_hmac("accounts.User", held, secret=secret, algorithm="sha256").hexdigest()

    @property
    def zone(self) -> str:
        """The IANA name of this person's clock."""
        return str(self.time_zone)
