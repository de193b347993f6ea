"""The hours of their own week that a student can come, as a family says them.

Wall times are minutes of the local day, 0 to 1440 and multiples of five, on the student's clock,
wherever that clock is.
"""

from django.db import models
from django.db.models import F, Q

from accounts.models import Student
from bookings.domain.vocabulary import Wish
from bookings.models.choices import choices_of, values_of


class StudentWeek(models.Model):
    """What a family says of a student's week. Every change raises its version.

    School is Monday to Friday on the days of a term, outside its breaks. `is_confirmed` says that a
    guardian, an admin or a grown student has said it: until then the usual hours of a minor count.
    """

    student = models.OneToOneField(Student, on_delete=models.CASCADE, related_name="week")
    school_opens = models.PositiveSmallIntegerField(null=True, blank=True)
    school_closes = models.PositiveSmallIntegerField(null=True, blank=True)
    is_confirmed = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["student"]
        constraints = [
            models.CheckConstraint(
                condition=Q(school_opens__isnull=True, school_closes__isnull=True)
                | Q(
                    school_opens__isnull=False,
                    school_closes__isnull=False,
                    school_opens__lt=F("school_closes"),
                    school_closes__lte=1440,
                ),
                name="student_week_school_order",
            )
        ]

    def __str__(self) -> str:
        return f"{self.student}'s week"

    @property
    def school(self) -> tuple[int, int] | None:
        """From when to when there is school, minutes of the day; None without."""
        if self.school_opens is None or self.school_closes is None:
            return None
        return self.school_opens, self.school_closes


class StudentHours(models.Model):
    """One window of the week and the family's word for it. It ends by 24:00."""

    week = models.ForeignKey(StudentWeek, on_delete=models.CASCADE, related_name="windows")
    weekday = models.PositiveSmallIntegerField(help_text="0 is Monday.")
    opens = models.PositiveSmallIntegerField()
    closes = models.PositiveSmallIntegerField()
    wish = models.CharField(max_length=20, choices=choices_of(Wish))

    class Meta:
        ordering = ["weekday", "opens"]
        verbose_name_plural = "student hours"
        constraints = [
            models.CheckConstraint(condition=Q(weekday__lte=6), name="student_hours_weekday"),
            models.CheckConstraint(
                condition=Q(opens__lt=F("closes"), closes__lte=1440), name="student_hours_order"
            ),
            models.CheckConstraint(
                condition=Q(wish__in=values_of(Wish)), name="student_hours_wish"
            ),
            models.UniqueConstraint(fields=["week", "weekday", "opens"], name="student_hours_once"),
        ]

    def __str__(self) -> str:
        return f"{self.weekday} {self.opens}-{self.closes} {self.wish}"
