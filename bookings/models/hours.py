"""An instructor's time as they publish it: weekly hours, extra hours on one date, days away.

Wall times are minutes of the local day, 0 to 1440 and multiples of five. The IANA zone in which
they were published stands beside them.
"""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from timezone_field import TimeZoneField

from accounts.models import Instructor
from bookings.domain.hours import DAY_MINUTES


class TeachingWeek(models.Model):
    """An instructor's week. Every change of their time raises its version."""

    instructor = models.OneToOneField(Instructor, on_delete=models.CASCADE, related_name="week")
    time_zone = TimeZoneField()
    version = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField(null=True)
    keeps_hours_whole = models.BooleanField(
        default=False,
        help_text="Lists leave out starts that cost the day a lesson, while there are others.",
    )

    class Meta:
        ordering = ["instructor"]

    def __str__(self) -> str:
        return f"{self.instructor}'s week"


class TeachingHours(models.Model):
    """One window of the week (AVAILABLE in RFC 7953), in the week's zone.

    A window ends by 24:00. Hours across midnight are two windows.
    """

    week = models.ForeignKey(TeachingWeek, on_delete=models.CASCADE, related_name="windows")
    weekday = models.PositiveSmallIntegerField(help_text="0 is Monday.")
    opens = models.PositiveSmallIntegerField()
    closes = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["weekday", "opens"]
        verbose_name_plural = "teaching hours"
        constraints = [
            models.CheckConstraint(condition=Q(weekday__lte=6), name="teaching_hours_weekday"),
            models.CheckConstraint(
                condition=Q(opens__lt=F("closes"), closes__lte=1440), name="teaching_hours_order"
            ),
            models.UniqueConstraint(
                fields=["week", "weekday", "opens"], name="teaching_hours_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.weekday} {self.opens}-{self.closes}"


class ExtraHours(models.Model):
    """A window on one date, beside the weekly ones."""

    instructor = models.ForeignKey(Instructor, on_delete=models.CASCADE, related_name="extra_hours")
    on = models.DateField()
    opens = models.PositiveSmallIntegerField()
    closes = models.PositiveSmallIntegerField()
    time_zone = TimeZoneField()

    class Meta:
        ordering = ["on", "opens"]
        verbose_name_plural = "extra hours"
        constraints = [
            models.CheckConstraint(
                condition=Q(opens__lt=F("closes"), closes__lte=1440), name="extra_hours_order"
            ),
            models.UniqueConstraint(fields=["instructor", "on", "opens"], name="extra_hours_once"),
        ]

    def __str__(self) -> str:
        return f"{self.on} {self.opens}-{self.closes}"


class DaysAway(models.Model):
    """Dates without teaching, both ends included, from midnight to midnight in this zone.

    Cleared hours begin later on the first date, or end sooner on the last.
    """

    instructor = models.ForeignKey(Instructor, on_delete=models.CASCADE, related_name="days_away")
    first_on = models.DateField()
    last_on = models.DateField()
    from_minute = models.PositiveSmallIntegerField(
        default=0, help_text="From which minute of the first date."
    )
    to_minute = models.PositiveSmallIntegerField(
        default=DAY_MINUTES, help_text="Until which minute of the last date."
    )
    time_zone = TimeZoneField()
    called_off_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When meetings on these days were last called off for them.",
    )

    class Meta:
        ordering = ["first_on"]
        verbose_name_plural = "days away"
        constraints = [
            models.CheckConstraint(condition=Q(first_on__lte=F("last_on")), name="days_away_order"),
            models.CheckConstraint(
                condition=Q(
                    from_minute__lt=DAY_MINUTES, to_minute__gt=0, to_minute__lte=DAY_MINUTES
                )
                & (Q(first_on__lt=F("last_on")) | Q(from_minute__lt=F("to_minute"))),
                name="days_away_hours",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.first_on} to {self.last_on}"

    @property
    def is_whole_days(self) -> bool:
        """Whether nothing at all is taught on these dates."""
        return self.from_minute == 0 and self.to_minute == DAY_MINUTES


class LoadAllowance(models.Model):
    """One start for which an instructor has waived their own load rules.

    Those are the rules on minutes in a row, a day and a week, and on the night's rest. For a group
    meeting it waives their teaching hours and days away too.
    """

    instructor = models.ForeignKey(
        Instructor, on_delete=models.CASCADE, related_name="load_allowances"
    )
    starts_at = models.DateTimeField()
    allowed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    allowed_at = models.DateTimeField()

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["instructor", "starts_at"], name="load_allowance_once")
        ]

    def __str__(self) -> str:
        return f"{self.instructor} at {self.starts_at:%Y-%m-%d %H:%M} UTC"
