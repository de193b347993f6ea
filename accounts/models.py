"""People: who signs in, who teaches, who learns, who answers for a minor, and who has been invited."""

import hashlib
import secrets
import zoneinfo
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce, Lower
from django.utils.crypto import salted_hmac
from timezone_field import TimeZoneField

from accounts.addresses import AddressField


def digest(secret: str) -> str:
    """SHA-256 of a 256-bit secret, in hex: what is stored in the secret's place."""
    return hashlib.sha256(secret.encode()).hexdigest()


def new_secret() -> str:
    """256 random bits, safe in an address."""
    return secrets.token_urlsafe(32)


def first_word(name: str) -> str:
    """What somebody is called by those who do not know them: "Posy" of "Posy Lindqvist-Reed"."""
    return name.split(" ", 1)[0]


class UserManager(BaseUserManager["User"]):
    """Creates people by email address."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "User":
        """A person with that address; no password means that none can sign in with one."""
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
    """Somebody who signs in. Roles follow from what points here; `is_staff` is the admin role."""

    email = AddressField(max_length=254)
    name = models.CharField(max_length=120)
    time_zone = TimeZoneField(default="UTC")
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField("admin", default=False)
    joined_at = models.DateTimeField(null=True, blank=True)
    # Part of every session's hash: one more ends them all. See accounts.sessions.
    session_epoch = models.PositiveIntegerField(default=0, editable=False)

    objects = UserManager()
    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

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
        """What a session must know to go on: a new password or a new epoch ends it."""
        # Overridden here, and not in get_session_auth_hash, so that the fallback keys have it too.
        held = f"{self.password}|{self.session_epoch}"
        return salted_hmac("accounts.User", held, secret=secret, algorithm="sha256").hexdigest()

    @property
    def zone(self) -> str:
        """The IANA name of this person's clock."""
        return str(self.time_zone)


class Instructor(models.Model):
    """Somebody who teaches. The clock of her teaching hours stands with the hours; her user's clock is where she is now."""

    user = models.OneToOneField(User, on_delete=models.PROTECT, related_name="instructor")
    is_active = models.BooleanField(default=True)
    # The address of her usual online room; a meeting takes it when it is made and shows it to those booked only.
    room = models.URLField(max_length=300, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.user.name


class Student(models.Model):
    """Somebody who learns; a minor until `adult_on`. A child may have no account: then a guardian acts and gets the mail.

    Not active is who has left the school: nothing is booked for them, and what was stays on record.
    """

    user = models.OneToOneField(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="student"
    )
    own_name = models.CharField("name without an account", max_length=120, blank=True)
    level = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(10)]
    )
    unit = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(99)]
    )
    adult_on = models.DateField(
        null=True,
        blank=True,
        help_text="The date from which they are an adult; empty for somebody known to be one.",
    )
    is_active = models.BooleanField(default=True)
    own_time_zone = TimeZoneField("time zone without an account", null=True, blank=True)
    guardians: "models.ManyToManyField[User, Guardianship]" = models.ManyToManyField(
        User, through="Guardianship", related_name="children", blank=True
    )

    class Meta:
        ordering = [Coalesce("user__name", "own_name"), "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(level__gte=1, level__lte=10), name="student_level_1_to_10"
            ),
            models.CheckConstraint(
                condition=Q(user__isnull=False) | Q(own_time_zone__isnull=False),
                name="student_has_a_clock",
            ),
            models.CheckConstraint(
                condition=Q(user__isnull=False, own_name="")
                | (Q(user__isnull=True) & ~Q(own_name="")),
                name="student_has_one_name",
            ),
        ]

    def __str__(self) -> str:
        return self.full_name

    @property
    def full_name(self) -> str:
        """The account's name, or the one the school noted where there is no account. Other families see `first_name`."""
        return self.user.name if self.user is not None else self.own_name

    @property
    def first_name(self) -> str:
        """The first word of the name: what other families may read."""
        return first_word(self.full_name)

    @property
    def zone(self) -> str:
        """The IANA name of her clock: her account's, or the one the school noted where she has none."""
        own: zoneinfo.ZoneInfo | None = self.own_time_zone
        return self.user.zone if self.user is not None else str(own)


class Guardianship(models.Model):
    """One adult who answers for one minor, and that adult's consent to live lessons: per guardian, not per family."""

    guardian = models.ForeignKey(User, on_delete=models.PROTECT, related_name="guardianships")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="guardianships")
    consent_at = models.DateTimeField(null=True, blank=True)
    consent_wording = models.CharField(
        max_length=20, blank=True, help_text="The version of the wording agreed to."
    )
    consent_digest = models.CharField(
        max_length=64,
        blank=True,
        default="",
        help_text="SHA-256 of the secret in the mailed form's address.",
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["guardian", "student"], name="guardianship_once"),
            models.CheckConstraint(
                condition=Q(consent_at__isnull=True, consent_wording="")
                | (Q(consent_at__isnull=False) & ~Q(consent_wording="")),
                name="consent_has_date_and_wording",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.guardian} for {self.student}"


class Welcome(models.Model):
    """A letter that lets one person create her account, once. Only the digest of its secret is stored."""

    email = AddressField()
    name = models.CharField(max_length=120)
    secret_digest = models.CharField(max_length=64, unique=True)
    as_admin = models.BooleanField(default=False)
    as_instructor = models.BooleanField(default=False)
    student = models.ForeignKey(
        Student,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="+",
        help_text="Becomes their account.",
    )
    guardian_of = models.ForeignKey(
        Student, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    sent_at = models.DateTimeField()
    good_until = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

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
