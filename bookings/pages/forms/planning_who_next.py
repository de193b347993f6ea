"""The form of who is next: which one-on-one is proposed and, for admins, whose students."""

from collections.abc import Sequence
from typing import Any

from django import forms

from accounts.models import Instructor
from bookings.models import Offering
from bookings.pages.forms.picking import PersonField
from bookings.queries.picking import Whom


class WhoNextForm(forms.Form):
    """Whose students is not asked of a reader who asks for their own."""

    instructor = PersonField(Whom.INSTRUCTOR, label="Whose students")
    offering = forms.TypedChoiceField(coerce=int, label="Which lesson")

    def __init__(
        self,
        *args: Any,
        offerings: Sequence[Offering],
        asks_whose: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        lessons: Any = self.fields["offering"]
        lessons.choices = [(one.pk, f"{one.name}, {one.minutes} minutes") for one in offerings]
        if not asks_whose:
            del self.fields["instructor"]

    def asked(self, whose: Instructor | None) -> dict[str, Any]:
        """What a valid form asks for, as plain values."""
        values = self.cleaned_data
        return {
            "instructor": values["instructor"].pk if whose is None else whose.pk,
            "offering": values["offering"],
        }
