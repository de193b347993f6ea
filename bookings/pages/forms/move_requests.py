"""The form of a request to move a lesson."""

from datetime import datetime

from django import forms

from bookings.pages.forms.fields import ClockField, DayField, wall_time


class MoveRequestForm(forms.Form):
    """A day and a time of the student's clock."""

    on = DayField(label="Day")
    at = ClockField(label="Time, such as 17:30")

    def wall(self) -> datetime:
        """The wall time asked for, without an offset."""
        return wall_time(self.cleaned_data["on"], self.cleaned_data["at"])
