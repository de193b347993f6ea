"""The marks of the register, and what was entered before each became what it is."""

from django.conf import settings
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


class RegisterEntry(models.Model):
    """One entry in the register: the first of a booking, or a correction of it.

    An entry is added in the transaction that sets the mark. The database refuses to change or
    delete one, so that a correction is kept beside the first entry.
    """

    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="entries")
    attendance = models.CharField(max_length=24, choices=choices_of(Attendance))
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.DO_NOTHING,
        related_name="+",
        db_constraint=False,
    )
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["booking", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(attendance__in=values_of(Attendance)), name="entry_attendance"
            )
        ]

    def __str__(self) -> str:
        return f"{self.booking}, entered {self.entered_at:%Y-%m-%d %H:%M}: {self.attendance}"
