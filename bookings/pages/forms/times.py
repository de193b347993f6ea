"""What people look for, read into plain values: which offering, with whom, when."""

from typing import Any

from django import forms

from bookings.domain.suiting import WINDOWS, Part
from bookings.pages.forms.fields import ClockField, DayField
from bookings.queries.times import Taught

PARTS = [
    ("", "Any part of the day"),
    (Part.MORNING.value, "Morning, until 12:00"),
    (Part.AFTERNOON.value, "Afternoon, 12:00 to 17:00"),
    (Part.EVENING.value, "Evening, from 17:00"),
]


class TimesForm(forms.Form):
    """What a student looks for, on the student's clock. `since` is the first day shown.

    Cleaned, `earliest` and `latest` are what the part of the day and the two times have in common.
    """

    offering = forms.TypedChoiceField(required=False, empty_value=None, label="What")
    instructor = forms.TypedChoiceField(required=False, empty_value=None, label="With")
    part = forms.ChoiceField(required=False, choices=PARTS, label="When")
    since = DayField(required=False, label="From")
    earliest = ClockField(required=False, label="Starts after")
    latest = ClockField(required=False, label="Ends by")
    further = ("since", "earliest", "latest")
    """The fields that stay folded while they are empty."""

    def __init__(self, data: Any, *, taught: Taught) -> None:
        super().__init__(data)
        people = {str(person.pk): person for person in taught.everybody()}
        what = {str(row.pk): row for row in taught.offerings}
        self._choose("offering", what, [])
        anyone = ("", f"Anyone who teaches level {taught.level}")
        self._choose("instructor", people, [anyone])

    def _choose(self, name: str, rows: dict[str, Any], first: list[tuple[str, str]]) -> None:
        field: Any = self.fields[name]
        field.choices = [*first, *((pk, str(row)) for pk, row in rows.items())]
        field.coerce = rows.__getitem__

    def first(self, name: str) -> Any:
        """What is chosen by itself: the first row of a field, None where it has none."""
        field: Any = self.fields[name]
        return next((field.coerce(pk) for pk, _ in field.choices if pk), None)

    def main_fields(self) -> list[forms.BoundField]:
        """What every search is asked for."""
        return [field for field in self if field.name not in self.further]

    def further_fields(self) -> list[forms.BoundField]:
        """What some searches are asked for."""
        return [field for field in self if field.name in self.further]

    def is_further(self) -> bool:
        """Whether one of those is filled in or wrong: then they are shown open."""
        return any(field.value() or field.errors for field in self.further_fields())

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        earliest, latest = values.get("earliest"), values.get("latest")
        if earliest is not None and latest is not None and latest <= earliest:
            self.add_error("latest", "Choose an end after the start.")
            return values
        opens, closes = WINDOWS[Part(values["part"])] if values.get("part") else (None, None)
        begins = [minute for minute in (earliest, opens) if minute is not None]
        ends = [minute for minute in (latest, closes) if minute is not None]
        values["earliest"], values["latest"] = max(begins, default=None), min(ends, default=None)
        if None not in (values["earliest"], values["latest"]) and (
            values["latest"] <= values["earliest"]
        ):
            self.add_error("part", "These two times are outside that part of the day.")
        return values
