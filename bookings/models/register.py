"""The marks of the register."""

from django.db import models
from django.db.models import Q

from accounts.models import Instructor
from bookings.domain.vocabulary import Attendance
from bookings.models.choices import choices_of, values_of
from bookings.models.places import Booking


class Mark(models.Model):
    """What happened to one booking: a line of the register."""

    booking = models.OneToOneField(Booking, on_delete=models.PROTECT, related_name="mark")
    attendance = models.CharField(max_length=24, choices=choices_of(Attendance))
    marked_by = models.ForeignKey(
        Instructor, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    marked_at = models.DateTimeField()

    class Meta:
        ordering = ["booking"]
        constraints = [
            models.CheckConstraint(
                condition=Q(attendance__in=values_of(Attendance)), name="mark_attendance"
            )
        ]

    def __str__(self) -> str:
        return f"{self.booking}: {self.attendance}"
