"""The forms by which an instructor looks for times with a student, and proposes some."""

from datetime import datetime
from typing import Any

from django import forms

from bookings.pages.forms.fields import ClockField, DayField, wall_time


class ShownDaysForm(forms.Form):
    """The first day to list, on the instructor's clock."""

    since = DayField(label="Show times from", required=False)


class ProposingForm(forms.Form):
    """One start beside the ticked ones: a day and a time of the instructor's clock."""

    on = DayField(label="Another day", required=False)
    at = ClockField(label="Time, such as 17:30", required=False)

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        if (found.get("on") is None) != (found.get("at") is None) and not self.errors:
            self.add_error("at", "Enter a day and a time, or neither.")
        return found

    def wall(self) -> datetime | None:
        """The wall time typed in, without an offset; None where there is none."""
        on, at = self.cleaned_data.get("on"), self.cleaned_data.get("at")
        return wall_time(on, at) if on is not None and at is not None else None
