"""The pages' own form fields: plain text, a 24-hour clock, a date and a time zone."""

import unicodedata
from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator

from bookings.domain.errors import Refused
from bookings.domain.timeline import FIRST_ON, LAST_ON
from bookings.domain.typed_hours import read_clock
from bookings.domain.zone_names import current_names, older_names

CHOOSE = "Choose one"
"""What a list says until something is chosen."""
_REGIONS = (
    "Africa",
    "America",
    "Antarctica",
    "Asia",
    "Atlantic",
    "Australia",
    "Europe",
    "Indian",
    "Pacific",
)
_SEPARATORS = dict.fromkeys(map(ord, "\u2028\u2029\u0085"), "\n")


@cache
def zones() -> list[tuple[str, list[tuple[str, str]]]]:
    """Every zone once, by its current name, as choices by region."""
    by_region = [
        (region, [name for name in current_names() if name.startswith(region + "/")])
        for region in _REGIONS
    ]
    return [
        (region, [(name, name.split("/", 1)[1].replace("_", " ")) for name in found])
        for region, found in by_region
    ]


def zone_choices(current: str = "") -> list[Any]:
    """The same, with the one in use on top where it is not among them (UTC)."""
    return [*([(current, current)] if current and current not in current_names() else []), *zones()]


class BrowserZone(forms.Select):
    """A select of zones. The script `zone.js` sets it to the browser's zone.

    Each choice carries the older names that a browser may use for it.
    """

    def __init__(self) -> None:
        super().__init__(attrs={"data-browser-zone": ""})

    def create_option(self, name: str, value: Any, *others: Any, **more: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *others, **more)
        also = [old for old, new in older_names().items() if new == value]
        if also:
            option["attrs"]["data-also"] = " ".join(also)
        return option


class PlainText(forms.CharField):
    """Text without control characters; lines end in a line feed."""

    def to_python(self, value: Any) -> str:
        text = str(value or "").replace("\r\n", "\n").replace("\r", "\n").translate(_SEPARATORS)
        kept = "".join(
            sign for sign in text if sign in "\n\t" or unicodedata.category(sign) != "Cc"
        )
        return str(
            super().to_python(
                kept if isinstance(self.widget, forms.Textarea) else kept.replace("\n", " ")
            )
        )


def judge(form: forms.Form, name: str, check: Callable[[], object]) -> None:
    """Says a refusal of `check` at this field, unless the field has a fault already."""
    if name in form.errors:
        return
    try:
        check()
    except Refused as refusal:
        form.add_error(name, refusal.detail)


def is_said_at_field(
    form: forms.Form, refusal: Refused, fields: Mapping[str, str] | None = None
) -> bool:
    """Says a refusal at the field that it names. False where the form has no such field.

    `fields` are the form's own names for those of the refusal, where they differ.
    """
    named = str(refusal.data.get("field", ""))
    name = (fields or {}).get(named, named)
    if name not in form.fields:
        return False
    form.add_error(name, refusal.detail)
    return True


def line_of(text: str) -> str:
    """One short line as typed, without control characters."""
    return PlainText(required=False).clean(text).strip()[:200]


class ClockField(forms.CharField):
    """A time of day on a 24-hour clock, "08:00", as minutes of the day; empty gives None."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            widget=forms.TextInput(
                attrs={"inputmode": "numeric", "size": 5, "maxlength": 5, "autocomplete": "off"}
            ),
            **options,
        )

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        minute = read_clock(text)
        if minute is None:
            raise ValidationError(f"“{text.strip()[:20]}” is not a time: write it like 08:00.")
        return minute


def wall_time(on: date, minutes: int) -> datetime:
    """The wall time of a date and minutes of its day, without an offset. 24:00 is next midnight."""
    midnight = datetime(on.year, on.month, on.day)  # noqa: DTZ001  a wall time
    return midnight + timedelta(minutes=minutes)


class DayField(forms.DateField):
    """A date from 2000 to 2199, so that no arithmetic on it leaves the calendar."""

    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})

    default_validators = [
        MinValueValidator(FIRST_ON),
        MaxValueValidator(LAST_ON),
    ]

    def __init__(self, **options: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d", "%d %B %Y", "%d.%m.%Y"], **options)
