"""What people type about terms, read into plain values. Rules are not judged here."""

import re
from datetime import date, datetime

from django import forms
from django.core.exceptions import ValidationError

from bookings.models import Term
from bookings.pages.forms.fields import DayField, PlainText

_DAY = r"(\d{4}-\d\d-\d\d|\d{1,2} \w+ \d{4})"
_DAYS = re.compile(rf"{_DAY}(?:\s*(?:to|-|–|—)\s*{_DAY})?(?:\s*[,:]\s*(.*))?")
_WAYS = ("%Y-%m-%d", "%d %B %Y")
Break = tuple[date, date, str]


class TermForm(forms.Form):
    """A term as an admin types it; breaks one a line: "2027-02-15 to 2027-02-21, half-term"."""

    name = PlainText(max_length=80, label="Name")
    first_on = DayField(label="First day")
    last_on = DayField(label="Last day")
    lessons_promised = forms.IntegerField(
        min_value=1,
        max_value=400,
        label="Lessons promised",
        help_text="How many each weekly place gets.",
    )
    flex_last_on = DayField(
        required=False,
        label="Last day of the flex week",
        help_text="Make-up lessons may be taken until then, if that is later than the policy says.",
    )
    breaks = PlainText(
        required=False,
        max_length=2000,
        label="Breaks",
        help_text="One a line: 2027-02-15 to 2027-02-21, half-term. Write a single day on its own.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def clean_breaks(self) -> list[Break]:
        return [
            _read_break(line.strip())
            for line in self.cleaned_data["breaks"].split("\n")
            if line.strip()
        ]


def _read_break(line: str) -> Break:
    found = _DAYS.fullmatch(line)
    first_on = _read_day(found[1]) if found else None
    last_on = _read_day(found[2]) if found and found[2] else first_on
    if found is None or first_on is None or last_on is None:
        raise ValidationError(
            f"“{line[:40]}” is not a break: write it like 2027-02-15 to 2027-02-21, half-term."
        )
    return first_on, last_on, (found[3] or "").strip()[:80]


def _read_day(text: str) -> date | None:
    for way in _WAYS:
        try:
            return datetime.strptime(text, way).date()  # noqa: DTZ007  a date has no zone
        except ValueError:
            continue
    return None


def say_breaks(term: Term) -> str:
    """The breaks as they are typed."""
    rows = term.breaks.all()
    return "\n".join(
        f"{row.first_on} to {row.last_on}{', ' if row.name else ''}{row.name}" for row in rows
    )
