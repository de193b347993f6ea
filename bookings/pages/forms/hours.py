"""The forms of Hours I teach, read into plain values. The operations judge the rules."""

from datetime import datetime
from typing import Any

from django import forms

from bookings.domain.hours import WEEKDAYS
from bookings.domain.typed_hours import read_week, say_hours
from bookings.pages.forms.fields import ClockField, DayField, PlainText, wall_time, zone_choices


class WeekForm(forms.Form):
    """Teaching hours, a line a weekday, such as "9-12, 15:30-20:30"; empty for no hours."""

    time_zone = forms.ChoiceField(label="Time zone of these hours")
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    keeps_hours_whole = forms.BooleanField(
        label="Keep hours whole",
        help_text="Lists leave out a start that would cost a lesson that day, while the week has"
        " six other starts that suit the student as well. It can still be booked.",
        required=False,
    )

    def __init__(
        self,
        data: Any = None,
        *,
        time_zone: str,
        windows: dict[int, list[tuple[int, int]]],
        version: int,
        keeps_hours_whole: bool = False,
    ) -> None:
        initial: dict[str, Any] = {
            f"day_{weekday}": say_hours(windows.get(weekday, [])) for weekday in range(7)
        }
        initial |= {"time_zone": time_zone, "version": version}
        super().__init__(data, initial={**initial, "keeps_hours_whole": keeps_hours_whole})
        zone_field: Any = self.fields["time_zone"]
        zone_field.choices = zone_choices(time_zone)
        for weekday, name in enumerate(WEEKDAYS):
            self.fields[f"day_{weekday}"] = PlainText(required=False, max_length=120, label=name)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        week = read_week([values.get(f"day_{weekday}", "") for weekday in range(7)])
        for weekday, faults in week.faults.items():
            self.add_error(f"day_{weekday}", list(faults))
        return {**values, "windows": week.windows}


class ExtraHoursForm(forms.Form):
    """Hours on one date, beside the weekly ones."""

    on = DayField(label="On")
    opens = ClockField(label="From")
    closes = ClockField(label="To")


class AllowedForm(forms.Form):
    """A start that the instructor allows, on the clock of their hours."""

    on = DayField(label="On")
    at = ClockField(label="At")

    def wall(self) -> datetime:
        """The wall time asked for, without an offset."""
        return wall_time(self.cleaned_data["on"], self.cleaned_data["at"])


class HoursFileForm(forms.Form):
    """A calendar file with availability in it."""

    calendar = forms.FileField(
        label="A calendar file (.ics)",
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
    )


class AwayForm(forms.Form):
    """Days away."""

    first_on = DayField(label="First day away")
    last_on = DayField(label="Last day away")
