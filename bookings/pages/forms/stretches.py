"""Whole days, or a stretch of hours, as a form asks for them."""

from datetime import datetime, timedelta

from django import forms

from bookings.domain.instants import resolve
from bookings.domain.local_days import midnight
from bookings.pages.forms.fields import ClockField, DayField, wall_time


class StretchForm(forms.Form):
    """Days, and times of the first and the last of them."""

    first_on = DayField(label="First day")
    last_on = DayField(required=False, label="Last day", help_text="Empty for a single day.")
    from_at = ClockField(
        required=False,
        label="From this time",
        help_text="On the first day, such as 15:30. Empty for whole days.",
    )
    to_at = ClockField(
        required=False,
        label="Until this time",
        help_text="On the last day, such as 18:00. Empty for whole days.",
    )

    def last_field(self) -> str:
        """The field that says when the stretch ends."""
        return "to_at" if self["to_at"].value() else "last_on"

    def stretch(self, time_zone: str) -> tuple[datetime, datetime]:
        """Where a valid form's stretch begins and ends on that clock.

        Refused("clock-gap") for a time that does not exist.
        """
        values = self.cleaned_data
        first_on, last_on = values["first_on"], values["last_on"] or values["first_on"]
        since: datetime = midnight(first_on, time_zone)
        until: datetime = midnight(last_on + timedelta(days=1), time_zone)
        if values["from_at"] is not None:
            since = resolve(wall_time(first_on, values["from_at"]), 0, time_zone)
        if values["to_at"] is not None:
            until = resolve(wall_time(last_on, values["to_at"]), 1, time_zone)
        return since, until
