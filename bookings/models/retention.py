"""The days on which the school has let go of what it no longer needs."""

from django.db import models


class RetentionRun(models.Model):
    """One day's work of letting go. `gone` counts rows by kind; it is over once `ended_at` is set.

    A day whose work was stopped is taken up again, and its counts go on.
    """

    day = models.DateField(unique=True, help_text="The date in UTC.")
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    gone = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-day"]

    def __str__(self) -> str:
        return f"letting go on {self.day}"
