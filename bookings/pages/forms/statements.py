"""The form of a statement of hours: whose, and which dates."""

from datetime import date, timedelta
from typing import Any

from django import forms

from bookings.pages.forms.fields import DayField
from bookings.pages.forms.lists import ChoicesForm
from bookings.pages.forms.picking import PersonField
from bookings.queries.picking import Whom
from bookings.queries.statements import all_instructors


class StatementForm(forms.Form):
    """An instructor, who may have left, and the first and last day."""

    instructor = PersonField(Whom.TAUGHT, label="Instructor")
    first_on = DayField(label="First day")
    last_on = DayField(label="Last day")

    def asked(self) -> dict[str, Any]:
        """What a valid form asks for."""
        return dict(self.cleaned_data)


class StatementsForm(ChoicesForm):
    """Whose statements a list shows; all if nobody is chosen."""

    instructor = forms.ModelChoiceField(
        all_instructors(),
        required=False,
        label="Instructor",
        empty_label="All instructors",
    )


def month_before(today: date) -> dict[str, date]:
    """The first and last day of the month before this one."""
    last_on = today.replace(day=1) - timedelta(days=1)
    return {"first_on": last_on.replace(day=1), "last_on": last_on}
