"""Instructors, students and guardians."""

import zoneinfo
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce
from timezone_field import TimeZoneField

from accounts.models.users import User, first_word


class InstructorQuerySet(models.QuerySet["Instructor"]):
    """Instructors by state."""

    def teaching(self) -> "InstructorQuerySet":
        """Instructors who teach here now."""
        return self.filter(is_active=True)


class Instructor(models.Model):
    """A person who teaches.

    Their teaching hours have a clock of their own; the account's clock is where they are now.
    """

    user = models.OneToOneField(User, on_delete=models.PROTECT, related_name="instructor")
    is_active = models.BooleanField(default=True)
    # The address of their usual online room. A new meeting copies it and shows it only to people
    # who are booked.
    room = models.URLField(max_length=300, blank=True)

    objects = InstructorQuerySet.as_manager()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.user.name


class Student(models.Model):
    """A person who learns; a minor until `adult_on`.

    A child may have no account: a guardian then acts and gets the email.

    A student who is not active has left the school: nothing is booked for them, and past bookings
    stay on record.
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
        help_text="The date from which the student is an adult; empty for a known adult.",
    )
    is_active = models.BooleanField(default=True)
    regular_instructor = models.ForeignKey(
        Instructor,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="regular_students",
        help_text="The instructor the student belongs to.",
    )
    own_time_zone = TimeZoneField("time zone without an account", null=True, blank=True)
    guardians: "models.ManyToManyField[User, Guardianship]" = models.ManyToManyField(
        User,
        through="Guardianship",
        through_fields=("student", "guardian"),
        related_name="children",
        blank=True,
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
        """The account's name, or the one that the school noted for a student without an account.

        Other families see only `first_name`.
        """
        return self.user.name if self.user is not None else self.own_name

    @property
    def first_name(self) -> str:
        """The first word of the name: what other families may read."""
        return first_word(self.full_name)

    @property
    def zone(self) -> str:
        """The IANA name of the student's clock: the account's, or the one that the school noted."""
        own: zoneinfo.ZoneInfo | None = self.own_time_zone
        return self.user.zone if self.user is not None else str(own)


class GuardianshipQuerySet(models.QuerySet["Guardianship"]):
    """Guardianships by state."""

    def answering(self) -> "GuardianshipQuerySet":
        """Those of guardians who answer for the student: their account is open, and they are not
        barred. Everything that a guardian reads, does or is told goes by this.
        """
        return self.filter(guardian__is_active=True, barred_at__isnull=True)

    def barred(self) -> "GuardianshipQuerySet":
        """Those in which the guardian is barred."""
        return self.filter(barred_at__isnull=False)

    def agreed(self) -> "GuardianshipQuerySet":
        """Those in which the guardian has consented to live lessons."""
        return self.filter(consent_at__isnull=False)

    def student_ids(self) -> "models.QuerySet[Guardianship, Any]":
        """The ids of the students, for a subquery."""
        return self.order_by().values("student")


class Guardianship(models.Model):
    """An adult who answers for a minor, and that adult's own consent to live lessons.

    A barred guardian neither acts nor reads nor gets email for this student. `barred_why` is for
    admins alone.
    """

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
    barred_at = models.DateTimeField(null=True, blank=True)
    barred_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    barred_why = models.CharField(max_length=500, blank=True, default="")

    objects = GuardianshipQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["guardian", "student"], name="guardianship_once"),
            models.CheckConstraint(
                condition=Q(consent_at__isnull=True, consent_wording="")
                | (Q(consent_at__isnull=False) & ~Q(consent_wording="")),
                name="consent_has_date_and_wording",
            ),
            models.CheckConstraint(
                condition=Q(barred_at__isnull=True, barred_why="")
                | (Q(barred_at__isnull=False) & ~Q(barred_why="")),
                name="bar_has_date_and_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.guardian} for {self.student}"
