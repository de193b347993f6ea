"""The form of a cover: whose lessons, and in which hours."""

from datetime import datetime, timedelta
from typing import Any

from django import forms

from bookings.domain.instants import resolve
from bookings.domain.local_days import midnight
from bookings.pages.forms.fields import ClockField, DayField, wall_time
from bookings.pages.forms.picking import PersonField
from bookings.queries.picking import Whom
from bookings.queries.teaching import zone_of_hours


class CoverForm(forms.Form):
    """An instructor and whole days, or a stretch of hours, on that instructor's clock."""

    instructor = PersonField(Whom.INSTRUCTOR, label="Who cannot teach")
    first_on = DayField(label="First day")
    last_on = DayField(required=False, label="Last day", help_text="Empty for a single day.")
    from_at = ClockField(
        required=False,
        label="From this time",
        help_text="On the first day, such as 15:30. Empty for the whole day.",
    )
    to_at = ClockField(
        required=False,
        label="Until this time",
        help_text="On the last day, such as 18:00. Empty for the whole day.",
    )

    def last_field(self) -> str:
        """The field that says when the hours end."""
        return "to_at" if self["to_at"].value() else "last_on"

    def asked(self) -> dict[str, Any]:
        """What a valid form asks for. Refused("clock-gap") for a time that does not exist."""
        values = self.cleaned_data
        here = zone_of_hours(values["instructor"])
        first_on, last_on = values["first_on"], values["last_on"] or values["first_on"]
        starts_at: datetime = midnight(first_on, here)
        ends_at: datetime = midnight(last_on + timedelta(days=1), here)
        if values["from_at"] is not None:
            starts_at = resolve(wall_time(first_on, values["from_at"]), 0, here)
        if values["to_at"] is not None:
            ends_at = resolve(wall_time(last_on, values["to_at"]), 1, here)
        return {
            "instructor": values["instructor"].pk,
            "starts_at": starts_at,
            "ends_at": ends_at,
        }
