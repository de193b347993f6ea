"""Form fields of the house: plain text, a 24-hour clock, a date, a zone, and typed windows of time."""

import re
import unicodedata
import zoneinfo
from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator

from bookings.domain.timeline import FIRST_ON, LAST_ON

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
_CLOCK = re.compile(r"([01]?\d|2[0-4])[:.]([0-5]\d)")
_SEPARATORS = dict.fromkeys(map(ord, "\u2028\u2029\u0085"), "\n")


@cache
def zones() -> list[tuple[str, list[tuple[str, str]]]]:
    """Every named zone as choices, by region."""
    names = sorted(zoneinfo.available_timezones())
    by_region = [
        (region, [name for name in names if name.startswith(region + "/")]) for region in _REGIONS
    ]
    return [
        (region, [(name, name.split("/", 1)[1].replace("_", " ")) for name in found])
        for region, found in by_region
    ]


def zone_choices(current: str = "") -> list[Any]:
    """The same, with the one in use on top where it has no region (UTC)."""
    known = {name for _, group in zones() for name, _ in group}
    return [*([(current, current)] if current and current not in known else []), *zones()]


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
        return minutes_of(text) if text else None


def minutes_of(text: str) -> int:
    """Minutes of the day of "8:30" or "08.30"; ValidationError otherwise."""
    found = _CLOCK.fullmatch(text.strip())
    minute = int(found[1]) * 60 + int(found[2]) if found else -1
    if not 0 <= minute <= 24 * 60:
        raise ValidationError(f"“{text.strip()[:20]}” is not a time: write it like 08:00.")
    return minute


def wall_time(on: date, minutes: int) -> datetime:
    """The wall time of a date and minutes of its day, without an offset; 24:00 is the next midnight."""
    return datetime(on.year, on.month, on.day) + timedelta(minutes=minutes)  # noqa: DTZ001  a wall time


class DayField(forms.DateField):
    """A date, 2000 to 2199, by the browser's own picker where it has one: no arithmetic on it leaves the calendar."""

    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})

    default_validators = [
        MinValueValidator(FIRST_ON),
        MaxValueValidator(LAST_ON),
    ]

    def __init__(self, **options: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d", "%d %B %Y", "%d.%m.%Y"], **options)


def say_windows(windows: list[tuple[int, int]]) -> str:
    """ "15:30-20:30, 21:00-22:00" of minutes of the day."""
    return ", ".join(f"{o // 60:02}:{o % 60:02}-{c // 60:02}:{c % 60:02}" for o, c in windows)


def read_windows(text: str) -> list[tuple[int, int]]:
    """The reverse, forgiving about dashes and spaces; ValidationError where it cannot be read."""
    windows = []
    for part in filter(None, (part.strip() for part in re.split(r"[,;]", text))):
        ends = re.split(r"\s*(?:-|–|—|to)\s*", part)
        if len(ends) != 2:
            raise ValidationError(f"“{part[:30]}” is not a window: write it like 15:30-20:30.")
        windows.append((minutes_of(ends[0]), minutes_of(ends[1])))
    return windows
