"""What people look for through a whole term, read into plain values."""

from collections.abc import Iterable
from typing import Any

from django import forms

from bookings.domain.hours import WEEKDAYS
from bookings.domain.vocabulary import Kind
from bookings.models import Term
from bookings.pages.forms.times import TimesForm
from bookings.queries.times import Taught


class WeeklyForm(TimesForm):
    """What a student looks for: the weekday of the instructor's clock; hours of the student's own that hold every lesson."""

    since = None  # type: ignore[assignment]  # Django: leaves the field out; a term begins when it begins
    term = forms.TypedChoiceField(required=False, empty_value=None, label="Term")
    weekday = forms.TypedChoiceField(
        coerce=int,
        empty_value=None,
        required=False,
        label="On",
        choices=[("", "any day"), *enumerate(f"{day}s" for day in WEEKDAYS)],
    )
    field_order = ["term", "offering", "instructor", "part", "weekday", "earliest", "latest"]
    further = ("weekday", "earliest", "latest")

    def __init__(self, data: Any, *, taught: Taught, terms: Iterable[Term]) -> None:
        super().__init__(data, taught=taught.of_kind(Kind.PRIVATE_LESSON))
        self._choose("term", {str(term.pk): term for term in terms}, [])
