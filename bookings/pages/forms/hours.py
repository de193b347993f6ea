"""The forms of Hours I teach, read into plain values. The operations judge the rules."""

from typing import Any

from django import forms

from bookings.domain.hours import WEEKDAYS
from bookings.domain.typed_hours import read_week, say_hours
from bookings.pages.forms.fields import ClockField, DayField, PlainText, zone_choices


class WeekForm(forms.Form):
    """Teaching hours, a line a weekday, such as "9-12, 15:30-20:30"; empty for no hours."""

    time_zone = forms.ChoiceField(label="Time zone of these hours")
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        data: Any = None,
        *,
        time_zone: str,
        windows: dict[int, list[tuple[int, int]]],
        version: int,
    ) -> None:
        initial = {f"day_{weekday}": say_hours(windows.get(weekday, [])) for weekday in range(7)}
        super().__init__(data, initial={**initial, "time_zone": time_zone, "version": version})
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


class HoursFileForm(forms.Form):
    """A calendar file with availability in it."""

    calendar = forms.FileField(
        label="A calendar file (.ics)",
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
    )


class AwayForm(forms.Form):
    """Days away; the reason is asked for once the meetings on them have been shown."""

    first_on = DayField(label="First day away")
    last_on = DayField(label="Last day away")
    call_off_why = PlainText(
        label="Why they are called off",
        help_text="One sentence. Everybody in these meetings reads it."
        " Say nothing about anybody’s health.",
        required=False,
        max_length=200,
    )

    def __init__(self, *args: Any, asks_why: bool = False, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["call_off_why"].required = asks_why

    def clean_call_off_why(self) -> str | None:
        return self.cleaned_data["call_off_why"].strip() or None
