"""The form of hours that an instructor cannot teach."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from bookings.domain.errors import Refused
from bookings.domain.timeline import Period
from bookings.pages.forms.fields import PlainText
from bookings.pages.forms.stretches import StretchForm


@dataclass(frozen=True, slots=True)
class Away:
    """The stretch, and its days where it is whole days: nothing new is offered on them then."""

    stretch: Period
    first_on: date
    last_on: date
    is_whole_days: bool


class ClearForm(StretchForm):
    """Whole days, or a stretch of hours, on the instructor's clock."""

    why = PlainText(
        label="Why",
        help_text="Optional. Everybody whose lesson or meeting is called off reads it."
        " Say nothing about anybody’s health.",
        required=False,
        max_length=200,
    )

    def __init__(self, *args: Any, time_zone: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self._zone = time_zone

    def clean_why(self) -> str:
        return str(self.cleaned_data["why"]).strip()

    def clean(self) -> dict[str, Any]:
        """Adds `away`, or says at a field what is wrong with it."""
        values = super().clean() or {}
        if self.errors:
            return values
        try:
            return {**values, "away": self._away(values)}
        except Refused as refusal:
            self.add_error(self.last_field(), refusal.detail)
            return values

    def _away(self, values: dict[str, Any]) -> Away:
        first_on, last_on = values["first_on"], values["last_on"] or values["first_on"]
        since, until = self.stretch(self._zone)
        if until <= since:
            raise Refused("end-before-start", "Choose an end after the start.")
        is_whole = values["from_at"] is None and values["to_at"] is None
        return Away(Period(since, until), first_on, last_on, is_whole)
