"""The items of a practice plan as an instructor writes them, part of a larger form.

Render it with levare/_practice_items.html, which calls it `plan`. All of it works without scripts.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError

from bookings.domain.practice import (
    LONGEST_WHAT,
    MOST_ITEMS,
    MOST_MINUTES,
    PracticeItem,
    usual_items,
)
from bookings.pages.forms.fields import PlainText

if TYPE_CHECKING:
    _Formset = forms.BaseFormSet["PracticeItemForm"]
else:
    _Formset = forms.BaseFormSet
_EMPTY_ROWS = 3
_SAID = {
    "missing_management_form": "This form is incomplete. Open the page again.",
    "too_many_forms": f"A plan has at most {MOST_ITEMS} items.",
}


class PracticeItemForm(forms.Form):
    """One row: what, and how many minutes a day. An empty row is no item."""

    what = PlainText(required=False, max_length=LONGEST_WHAT, label="What to practise")
    minutes = forms.IntegerField(
        required=False, min_value=1, max_value=MOST_MINUTES, label="Minutes a day"
    )
    is_review = forms.BooleanField(required=False, label="An older piece, to review")

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = self.cleaned_data
        what, minutes = values.get("what", "").strip(), values.get("minutes")
        if what and minutes is None and "minutes" not in self.errors:
            self.add_error("minutes", "Say how many minutes a day.")
        if minutes is not None and not what and "what" not in self.errors:
            self.add_error("what", "Say what to practise.")
        return values

    def item(self) -> PracticeItem | None:
        """The row as an item, None if it is empty."""
        values = self.cleaned_data
        if not values.get("what", "").strip():
            return None
        return PracticeItem(
            what=values["what"].strip(), minutes=values["minutes"], is_review=values["is_review"]
        )


_Rows = forms.formset_factory(
    PracticeItemForm, formset=_Formset, extra=_EMPTY_ROWS, max_num=MOST_ITEMS, validate_max=True
)


class PracticePlanForm(forms.Form):
    """Up to eight rows, or the usual plan. `is_valid` judges the rows, too."""

    usual = forms.BooleanField(
        required=False,
        label="Start from the usual plan for this level",
        help_text="It is filled in when you save. Leave the rows above empty.",
    )

    def __init__(self, data: Any = None, *, items: Sequence[PracticeItem] = ()) -> None:
        super().__init__(data, prefix="practice")
        rows = [item.stored() for item in items]
        self.rows = _Rows(data, initial=rows, prefix="practice-items", error_messages=_SAID)

    def clean(self) -> dict[str, Any]:
        if not self.rows.is_valid():
            raise ValidationError(
                list(self.rows.non_form_errors()) or "The practice plan needs another look."
            )
        if self.cleaned_data["usual"] and self._written():
            self.add_error("usual", "Empty the rows first, or leave this unticked.")
        return self.cleaned_data

    def items(self, *, level: int, age: int | None) -> list[PracticeItem]:
        """The items of a valid form. The usual plan is that of this level and age in years."""
        return usual_items(level, age) if self.cleaned_data["usual"] else self._written()

    def _written(self) -> list[PracticeItem]:
        found = (row.item() for row in self.rows)
        return [item for item in found if item is not None]
