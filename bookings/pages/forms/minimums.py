"""The minimum to run of a group meeting, with the time by which it is decided."""

from datetime import datetime
from typing import Any

from django import forms

from bookings.domain.instants import resolve_once
from bookings.domain.minimums import Minimum
from bookings.domain.zones import place, zone
from bookings.models import Meeting
from bookings.pages.forms.fields import ClockField, DayField, wall_time


class MinimumFields(forms.Form):
    """A minimum that may be left empty; the time to decide is on the instructor's clock."""

    minimum = forms.IntegerField(
        min_value=1,
        max_value=500,
        required=False,
        label="Minimum to run",
        help_text="How many players it needs. Leave this empty if it runs in any case.",
    )
    decide_on = DayField(required=False, label="Day to decide by")
    decide_at = ClockField(
        required=False, label="Time to decide by", help_text="On the instructor\u2019s clock."
    )

    def clean(self) -> None:
        given = [name for name in _TOGETHER if self.cleaned_data.get(name) is not None]
        missing = [name for name in _TOGETHER if name not in given and name not in self.errors]
        if given or self.errors.keys() & set(_TOGETHER):
            for name in missing:
                self.add_error(name, "Give the minimum, the day and the time together.")

    def wanted(self, time_zone: str) -> Minimum | None:
        """The minimum that was typed on that clock; None where it was left empty.

        Refused as `resolve_once`.
        """
        return None if self.cleaned_data["minimum"] is None else self.asked(time_zone)

    def asked(self, time_zone: str) -> Minimum:
        """The minimum of a form in which none was left empty. Refused as `resolve_once`."""
        values = self.cleaned_data
        wall = wall_time(values["decide_on"], values["decide_at"])
        return Minimum(values["minimum"], resolve_once(wall, time_zone))


_TOGETHER = ("minimum", "decide_on", "decide_at")


class MinimumForm(MinimumFields):
    """The same where a minimum is asked for."""

    def __init__(self, *said: Any, **more: Any) -> None:
        super().__init__(*said, **more)
        for name in _TOGETHER:
            self.fields[name].required = True
        self.fields["minimum"].help_text = "How many players it needs."


def minimum_form(data: Any, meeting: Meeting, time_zone: str) -> MinimumForm:
    """The form as the meeting stands on that clock, or as it was typed."""
    form = MinimumForm(data or None, initial=_stored(meeting, time_zone))
    form.fields["decide_at"].help_text = f"On the clock of {place(time_zone)}."
    return form


def _stored(meeting: Meeting, time_zone: str) -> dict[str, object]:
    decide_by: datetime | None = meeting.decide_by
    if decide_by is None:
        return {}
    local = decide_by.astimezone(zone(time_zone))
    return {
        "minimum": meeting.minimum,
        "decide_on": local.date(),
        "decide_at": f"{local:%H:%M}",
    }
