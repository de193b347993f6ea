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
    """What a student looks for in a whole term.

    The weekday is of the instructor's clock, the hours are of the student's.
    """

    since = None  # type: ignore[assignment]  # A term has its own first day.
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
