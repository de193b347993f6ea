"""An invitation: whom an admin invites, and what that person says of themselves."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password

from accounts.models import Student
from bookings.domain.zone_names import current_name, current_names
from bookings.pages.forms.fields import BrowserZone, PlainText, zones
from bookings.pages.forms.picking import PersonField
from bookings.queries.picking import Whom


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


class InviteForm(forms.Form):
    """Whom an admin invites, and as what. `of` begins with the student of a page before."""

    AS = [
        ("student", "a student"),
        ("guardian", "a guardian"),
        ("instructor", "an instructor"),
        ("admin", "an admin"),
    ]
    name = PlainText(max_length=120, label="Name")
    email = forms.EmailField(max_length=254, label="Email address")
    role = forms.ChoiceField(choices=AS, label="As")
    of = PersonField(
        Whom.STUDENT,
        required=False,
        label="Which student",
        help_text="For a student or a guardian: type part of the student’s name.",
    )

    def __init__(self, data: Any = None, *, of: Student | None, role: str = "") -> None:
        name = of.full_name if of is not None and role == "student" else ""
        super().__init__(data, initial={"of": of, "role": role, "name": name})

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        needs_student = values.get("role") in ("student", "guardian")
        if needs_student and not values.get("of") and "of" not in self.errors:
            self.add_error("of", "Choose the student whose account or guardian this is.")
        return values

    def gives(self) -> dict[str, Any]:
        """The role as the operation takes it."""
        of = self.cleaned_data["of"]
        roles: dict[str, dict[str, Any]] = {
            "student": {"student": of},
            "guardian": {"guardian_of": of},
            "instructor": {"as_instructor": True},
            "admin": {"as_admin": True},
        }
        return roles[self.cleaned_data["role"]]
