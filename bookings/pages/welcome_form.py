"""What an invited person says of themselves."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password

from bookings.domain.zone_names import current_name, current_names
from bookings.pages.fields import BrowserZone, PlainText, zones


class WelcomeForm(forms.Form):
    """A name, a clock and a password. No clock is chosen for a browser that has told none."""

    name = PlainText(
        max_length=120, label="Your name", widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    time_zone = forms.ChoiceField(
        label="Your clock",
        help_text="All times that we show you are on this clock.",
        error_messages={"required": "Choose the clock that you live by."},
        widget=BrowserZone(),
    )
    password = forms.CharField(
        label="A password of your own",
        help_text="At least 10 characters; a sentence is easy to remember.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, data: Any = None, *, name: str, browser_zone: str) -> None:
        told = current_name(browser_zone)
        known = told if told in current_names() else ""
        super().__init__(data, initial={"name": name, "time_zone": known})
        zone_field: Any = self.fields["time_zone"]
        zone_field.choices = [("", "Choose your clock"), *zones()]

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        validate_password(password)
        return password
