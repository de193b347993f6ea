"""Why an admin asks for a student's data."""

from typing import Any

from django import forms

from bookings.pages.forms.fields import PlainText

LONGEST = 200


class ReasonForm(forms.Form):
    """One sentence. Whether one is needed is decided by the operation: a family gives none."""

    reason = PlainText(
        required=False,
        widget=forms.TextInput(attrs={"required": "", "maxlength": LONGEST}),
    )

    def __init__(self, data: Any = None, *, why: str, reads: str, auto_id: str = "%s") -> None:
        super().__init__(data, auto_id=auto_id)
        self.fields["reason"].label = why
        self.fields["reason"].help_text = reads

    def text(self) -> str:
        """The reason as typed, at most 200 characters of it."""
        return str(self.cleaned_data["reason"])[:LONGEST] if self.is_valid() else ""
