"""The form of a calendar that says when somebody is busy."""

from typing import Any

from django import forms

from bookings.inbound.addresses import LONGEST
from bookings.inbound.expanding import MOST_BYTES
from bookings.pages.forms.fields import PlainText


class BusyForm(forms.Form):
    """A calendar to add: its address, or a file."""

    name = PlainText(max_length=60, label="A name, such as Orchestra")
    address = PlainText(
        max_length=LONGEST,
        required=False,
        label="Its address",
        help_text="It begins with https:// and is read again every hour.",
        widget=forms.TextInput(
            attrs={"inputmode": "url", "autocomplete": "off", "spellcheck": "false"}
        ),
    )
    file = forms.FileField(
        required=False,
        label="Or a file",
        help_text="An .ics file of up to 2 MB; it is read once.",
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
    )
    once = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not self.errors and bool(values.get("address")) == bool(values.get("file")):
            self.add_error("address", "Give either an address or a file.")
        if values.get("file") and values["file"].size > MOST_BYTES:
            self.add_error("file", "Choose a file of up to 2 MB.")
        return values
