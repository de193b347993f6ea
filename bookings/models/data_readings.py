"""Who of the school read what of a person's data, apart from notes."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from accounts.models import Student
from bookings.domain.data_readings import DataRead
from bookings.models.choices import choices_of, values_of
from bookings.models.places import Booking


class DataReading(models.Model):
    """This person read that kind of data of a student on this date (UTC): one row a day.

    `booking` is the one whose intake said what hurts; None for an export. `first_at` is the first
    time on that date. It never holds what was read.
    """

    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="data_readings")
    reader = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    relation = models.CharField(max_length=10)
    what = models.CharField(max_length=13, choices=choices_of(DataRead))
    booking = models.ForeignKey(
        Booking, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    on = models.DateField()
    first_at = models.DateTimeField()

    class Meta:
        ordering = ["-first_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["reader", "student", "what", "on"],
                condition=Q(booking__isnull=True),
                name="data_reading_once_a_day",
            ),
            models.UniqueConstraint(
                fields=["reader", "booking", "what", "on"],
                condition=Q(booking__isnull=False),
                name="data_reading_of_booking_once",
            ),
            models.CheckConstraint(
                condition=Q(what=DataRead.HEALTH.value, booking__isnull=False)
                | (
                    Q(what__in=values_of(DataRead), booking__isnull=True)
                    & ~Q(what=DataRead.HEALTH.value)
                ),
                name="data_reading_says_what",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} of student {self.student_id} on {self.on}"
