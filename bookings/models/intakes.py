"""What a student writes before a meeting."""

from django.db import models

from accounts.sealed import open_sealed, seal
from bookings.models.places import Booking


class Intake(models.Model):
    """What the student writes before a meeting.

    `questions` is a list of up to three short texts, the most pressing first. `recordings` is a
    list of short texts. `practised_minutes` are minutes a week. What hurts is health data: it is
    sealed at rest (accounts.sealed) and read by the instructor of the meeting alone.
    """

    booking = models.OneToOneField(Booking, on_delete=models.CASCADE, related_name="intake")
    questions = models.JSONField(default=list, blank=True)
    pieces = models.CharField(max_length=500, blank=True)
    recordings = models.JSONField(default=list, blank=True)
    obstacle = models.CharField(max_length=500, blank=True)
    practised_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    sealed_hurts = models.BinaryField(default=b"", blank=True, editable=False)
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["booking"]

    def __str__(self) -> str:
        return f"intake of {self.booking}"

    def bound_to(self) -> str:
        """Table, row and column: a sealed text that is copied elsewhere does not open there."""
        return f"intake:{self.booking_id}:hurts"

    @property
    def hurts(self) -> str:
        """Where playing hurts, in the student's words."""
        return open_sealed(bytes(self.sealed_hurts), self.bound_to())

    @hurts.setter
    def hurts(self, text: str) -> None:
        self.sealed_hurts = seal(text, self.bound_to())
