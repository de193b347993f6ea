"""What an admin types about people, read into plain values."""

from typing import Any

from django import forms

from accounts.models import Student, User
from bookings.pages.fields import DayField, PlainText, zone_choices


class AccountForm(forms.Form):
    """Name and email address of an account."""

    name = PlainText(max_length=120, label="Name")
    email = forms.EmailField(
        max_length=254,
        label="Email address",
        help_text="The person signs in with it. Another address signs them out everywhere, and the old one is told.",
    )


class StudentForm(forms.Form):
    """What the school notes of a student; name and clock only where there is no account that has them."""

    name = PlainText(max_length=120, label="Name")
    level = forms.IntegerField(min_value=1, max_value=10, label="Level")
    unit = forms.IntegerField(min_value=1, max_value=99, initial=1, label="Unit")
    adult_on = DayField(
        required=False,
        label="Of age from",
        help_text="The date of the 18th birthday, for a minor. Leave it empty for an adult.",
    )
    time_zone = forms.ChoiceField(label="Clock")

    def __init__(self, data: Any = None, *, student: Student | None = None) -> None:
        super().__init__(data, initial=_typed(student) if student is not None else None)
        clock: Any = self.fields["time_zone"]
        clock.choices = zone_choices(student.zone if student is not None else "")
        if student is not None and student.user_id is not None:
            del self.fields["name"], self.fields["time_zone"]


def _typed(student: Student) -> dict[str, Any]:
    return {
        "name": student.full_name,
        "level": student.level,
        "unit": student.unit,
        "adult_on": student.adult_on,
        "time_zone": student.zone,
    }


def account_form(data: Any, user: User) -> AccountForm:
    """The form as it stands, or as it was typed."""
    return AccountForm(data or None, initial={"name": user.name, "email": user.email})


class WordingForm(forms.Form):
    """The school's own words of consent."""

    version = PlainText(
        max_length=20, label="Version", help_text="Kept with each consent, such as 2027-03."
    )
    text = PlainText(
        label="Sentences",
        help_text="One a line. {child} is the child’s first name, {opens} and {closes} are a minor’s hours, {school} is the school.",
        widget=forms.Textarea(attrs={"rows": 14}),
    )
