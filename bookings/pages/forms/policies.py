"""The form of a new version of the studio policy, a field for each rule."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from bookings.domain.errors import Refused
from bookings.domain.local_days import midnight
from bookings.domain.policy import Policy
from bookings.domain.policy_rules import RULES, Rule, Unit, Whom, check_policy
from bookings.domain.wall import clock
from bookings.domain.zones import zone
from bookings.models import StudioPolicy
from bookings.pages.forms.fields import ClockField, DayField


class HoursField(forms.CharField):
    """A length in hours, "12" or "1:30", as minutes."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            max_length=6,
            widget=forms.TextInput(
                attrs={"inputmode": "numeric", "size": 6, "autocomplete": "off"}
            ),
            **options,
        )

    def clean(self, value: Any) -> Any:
        text = super().clean(value).strip()
        hours, _, minutes = text.partition(":")
        minutes = minutes or "00"
        if not (hours.isdecimal() and minutes.isdecimal() and len(minutes) == 2):
            raise ValidationError(f"“{text[:20]}” is not a number of hours: write 12 or 1:30.")
        if int(minutes) > 59:
            raise ValidationError("Write at most 59 minutes after the hours, such as 1:30.")
        return int(hours) * 60 + int(minutes)


def hours_text(minutes: int) -> str:
    """Minutes as they are typed in hours: "12", "1:30"."""
    return f"{minutes // 60}" if minutes % 60 == 0 else f"{minutes // 60}:{minutes % 60:02d}"


class PolicyForm(forms.Form):
    """A new version; bound to the newest version that the page showed."""

    in_force_on = DayField(
        required=False,
        label="In force from",
        help_text="From midnight on your clock. Leave this empty to start at once.",
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, data: Any, newest: StudioPolicy | None) -> None:
        rules = newest.rules() if newest else Policy()
        initial = {rule.name: _typed(rule, getattr(rules, rule.name)) for rule in RULES}
        super().__init__(
            data or None, initial={**initial, "version": newest.version if newest else 0}
        )
        self.fields = {**{rule.name: _field(rule) for rule in RULES}, **self.fields}

    def clean(self) -> dict[str, Any]:
        """Says a refusal of the rules at its field."""
        cleaned = super().clean() or {}
        if not self.errors:
            try:
                check_policy(self.rules())
            except Refused as refusal:
                self.add_error(refusal.data.get("field"), refusal.detail)
        return cleaned

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields of the rules, by whom they are for."""
        return [
            (whom.value, [self[rule.name] for rule in RULES if rule.whom is whom]) for whom in Whom
        ]

    def rules(self) -> Policy:
        """The rules that were typed."""
        return Policy(**{rule.name: self.cleaned_data[rule.name] for rule in RULES})

    def in_force_from(self, now: datetime, time_zone: str) -> datetime | None:
        """The instant that was chosen on that clock; None, at once, for none and for today."""
        on = self.cleaned_data["in_force_on"]
        if on is None or on == now.astimezone(zone(time_zone)).date():
            return None
        return midnight(on, time_zone)


def _field(rule: Rule) -> forms.Field:
    if rule.unit is Unit.HOURS:
        return HoursField(label=rule.label, help_text="Hours, such as 12 or 1:30.")
    if rule.unit is Unit.CLOCK:
        return ClockField(label=rule.label)
    return forms.IntegerField(
        label=rule.label, min_value=rule.least, max_value=rule.most, step_size=rule.step
    )


def _typed(rule: Rule, value: int) -> str | int:
    if rule.unit is Unit.HOURS:
        return hours_text(value)
    return clock(value) if rule.unit is Unit.CLOCK else value
