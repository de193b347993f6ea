"""The forms of an offering and of who teaches it. Rules are not judged here."""

from typing import Any

from django import forms

from bookings.domain.offerings import (
    HIGHEST_LEVEL,
    LONGEST,
    LONGEST_CHANGEOVER,
    LONGEST_STEP,
    LOWEST_LEVEL,
    SHORTEST,
)
from bookings.domain.vocabulary import Grid, Kind
from bookings.models import Offering
from bookings.operations.offerings import FIXED, OfferingValues
from bookings.pages.forms.fields import PlainText
from bookings.pages.forms.picking import PersonField
from bookings.queries.picking import Whom

KINDS = {
    Kind.CONSULTATION: "Consultation: one-on-one, about obstacles and technique",
    Kind.PRIVATE_LESSON: "Private lesson: one-on-one, also as a weekly place",
    Kind.GROUP_MEETING: "Group meeting: many students on a theme",
    Kind.MASTERCLASS: "Masterclass: players in turn before listeners",
}
GRIDS = {
    Grid.CLOCK: "At fixed times of the clock",
    Grid.WINDOW: "At fixed steps from the beginning of the teaching hours",
    Grid.PACKED: "One after another, with no gaps",
}


class OfferingForm(forms.Form):
    """An offering as an admin types it; bound to the version that the page showed."""

    name = PlainText(max_length=80, label="Name")
    kind = forms.ChoiceField(choices=list(KINDS.items()), label="Kind")
    summary = PlainText(
        required=False,
        max_length=300,
        label="Summary",
        help_text="One or two sentences that families read before they book.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    minutes = forms.IntegerField(
        min_value=SHORTEST,
        max_value=LONGEST,
        step_size=5,
        label="Minutes",
        help_text="How long it lasts, in steps of five.",
    )
    grid = forms.ChoiceField(
        choices=list(GRIDS.items()), label="Starts", help_text="For one-on-ones only."
    )
    step_minutes = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=LONGEST_STEP,
        step_size=5,
        label="Minutes between starts",
        help_text="Leave this empty for the usual: 30 for fixed times of the clock, otherwise "
        "its length and changeover.",
    )
    changeover_minutes = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=LONGEST_CHANGEOVER,
        step_size=5,
        label="Changeover in minutes",
        help_text="Kept free after each one. Leave this empty to follow the studio policy.",
    )
    is_open = forms.BooleanField(required=False, label="Open to new bookings")
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def values(self) -> OfferingValues:
        """What was typed, as the operations take it."""
        typed = self.cleaned_data
        return {
            "name": typed["name"],
            "kind": Kind(typed["kind"]),
            "summary": typed["summary"],
            "minutes": typed["minutes"],
            "grid": Grid(typed["grid"]),
            "step_minutes": typed["step_minutes"] or 0,
            "changeover_minutes": typed["changeover_minutes"],
            "is_open": typed["is_open"],
        }


def new_offering_form(data: Any) -> OfferingForm:
    """The form of one more offering."""
    return OfferingForm(data or None, initial={"minutes": 30, "is_open": True})


def change_offering_form(data: Any, offering: Offering, *, is_fixed: bool) -> OfferingForm:
    """The offering as it stands, or as it was typed; `is_fixed`: its kind and length stay."""
    names = (name for name in OfferingForm.base_fields if name != "step_minutes")
    initial: dict[str, Any] = {name: getattr(offering, name) for name in names}
    form = OfferingForm(
        data or None, initial={**initial, "step_minutes": offering.step_minutes or None}
    )
    for name in FIXED if is_fixed else ():
        form.fields[name].disabled = True
        form.fields[name].help_text = "This stays, because it has been booked."
    return form


class TeachesForm(forms.Form):
    """Who teaches an offering, to which levels; bound to the version of the offering."""

    instructor = PersonField(Whom.INSTRUCTOR, label="Instructor")
    lowest_level = forms.IntegerField(
        min_value=LOWEST_LEVEL, max_value=HIGHEST_LEVEL, label="Lowest level"
    )
    highest_level = forms.IntegerField(
        min_value=LOWEST_LEVEL, max_value=HIGHEST_LEVEL, label="Highest level"
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, data: Any, offering: Offering, named: str) -> None:
        """`named` is the id of the instructor whose levels are shown, as the address has it."""
        rows = {str(row.instructor_id): row for row in offering.taught_by.all()}
        row = rows.get(named)
        super().__init__(
            data or None,
            initial={
                "instructor": named,
                "lowest_level": row.lowest_level if row else LOWEST_LEVEL,
                "highest_level": row.highest_level if row else HIGHEST_LEVEL,
                "version": offering.version,
            },
        )

    def levels(self) -> tuple[int, int]:
        """The lowest and the highest level, both included."""
        return self.cleaned_data["lowest_level"], self.cleaned_data["highest_level"]
