"""What an admin types about owed lessons, read into plain values."""

from collections.abc import Sequence
from typing import Any

from django import forms

from bookings.models import Offering, Term
from bookings.models.owed import LONGEST_REASON
from bookings.pages.forms.fields import DayField, PlainText


def _reason() -> PlainText:
    return PlainText(max_length=LONGEST_REASON, label="Why", help_text="The family reads it.")


def _sure(label: str) -> forms.BooleanField:
    """Asks once more before an act that cannot be taken back."""
    return forms.BooleanField(
        label=f"{label} This cannot be taken back.",
        error_messages={"required": "Tick this first: it cannot be taken back."},
    )


class SettleForm(forms.Form):
    """Why an owed lesson is settled outside, such as by a refund."""

    reason = _reason()
    sure = _sure("Yes, settle it.")


class ExtendForm(forms.Form):
    """Until when the make-up lesson may begin."""

    use_by = DayField(label="Use by", help_text="On the student’s clock.")
    reason = _reason()


class CarryForm(ExtendForm):
    """To which term an owed lesson is carried."""

    term = forms.TypedChoiceField(label="To the term")
    sure = _sure("Yes, carry it.")
    field_order = ["term", "use_by", "reason", "sure"]

    def __init__(self, data: Any, *, terms: Sequence[Term], **options: Any) -> None:
        super().__init__(data, **options)
        _choose(self.fields["term"], terms)


class CarriedInForm(ExtendForm):
    """A lesson that the school owes from before."""

    offering = forms.TypedChoiceField(label="Lesson")
    field_order = ["offering", "use_by", "reason"]

    def __init__(self, data: Any, *, offerings: Sequence[Offering]) -> None:
        super().__init__(data)
        _choose(self.fields["offering"], offerings)


def _choose(field: Any, rows: Sequence[Term] | Sequence[Offering]) -> None:
    named = {str(row.pk): row for row in rows}
    field.choices = [(pk, str(row)) for pk, row in named.items()]
    field.coerce = named.__getitem__
