"""The form of a new student, with those who are invited for them."""

from datetime import datetime
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.people_rows import Person
from bookings.pages.forms.fields import PlainText, zone_choices
from bookings.pages.forms.people import StudentForm
from bookings.pages.forms.picking import PersonField
from bookings.queries.picking import Whom

_NUMBERS = ("1", "2")


class NewStudentForm(StudentForm):
    """The school's record, the address of an adult, and two guardians of a minor.

    A guardian is somebody who is here already, or a name and an address.
    """

    email = forms.EmailField(
        required=False,
        max_length=254,
        label="Email address",
        help_text="For an adult: an invitation goes there. You can leave it empty and invite them"
        " later.",
    )

    def __init__(self, data: Any = None, *, now: datetime) -> None:
        super().__init__(data, now=now)
        clock: Any = self.fields["time_zone"]
        clock.choices = [("", "Choose the student’s clock"), *zone_choices()]
        for number in _NUMBERS:
            self.fields[f"guardian_{number}"] = PersonField(
                Whom.ACCOUNT,
                required=False,
                label="Somebody who is here already",
                help_text="Type part of their name or email address.",
            )
            self.fields[f"guardian_{number}_name"] = PlainText(
                required=False, max_length=120, label="Or somebody new: name"
            )
            self.fields[f"guardian_{number}_email"] = forms.EmailField(
                required=False, max_length=254, label="Their email address"
            )

    @property
    def record_fields(self) -> list[BoundField]:
        """What the school notes of the student, and the address."""
        return [field for field in self if not field.name.startswith("guardian_")]

    @property
    def guardian_fields(self) -> list[tuple[str, list[BoundField]]]:
        """Each guardian with the fields that say who it is."""
        titles = ("Guardian", "Second guardian")
        return [
            (title, [field for field in self if field.name.startswith(f"guardian_{number}")])
            for title, number in zip(titles, _NUMBERS, strict=True)
        ]

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        found = {number: self._guardian(values, number) for number in _NUMBERS}
        self._named = [number for number, person in found.items() if person is not None]
        values["new_guardians"] = [found[number] for number in self._named]
        return values

    def _guardian(self, values: dict[str, Any], number: str) -> Person | None:
        """Takes the three fields of one guardian out of the values."""
        field = f"guardian_{number}"
        here: User | None = values.pop(field, None)
        name, email = values.pop(f"{field}_name", ""), values.pop(f"{field}_email", "")
        if here is not None:
            if name or email:
                self.add_error(
                    field, "Choose somebody who is here, or name somebody new: not both."
                )
            return Person(here.name, here.email)
        if name and not email and f"{field}_email" not in self.errors:
            self.add_error(f"{field}_email", f"Enter the email address of {name}.")
        if email and not name and f"{field}_name" not in self.errors:
            self.add_error(f"{field}_name", "Enter the name that belongs to this address.")
        return Person(name, email) if name and email else None

    def tell(self, refusal: Refused) -> bool:
        """Says a refusal beside the field that it names; False where it names none of the form."""
        named, _, index = str(refusal.data.get("field", "")).partition("/")
        if named == "guardians":
            named = f"guardian_{self._named[int(index)]}"
        shown = f"{named}_email" if self._is_typed(named) else named
        if shown not in self.fields:
            return False
        self.add_error(shown, refusal.detail)
        return True

    def _is_typed(self, named: str) -> bool:
        """Whether this guardian was typed as somebody new."""
        return named.startswith("guardian_") and bool(self.data.get(f"{named}_email"))
