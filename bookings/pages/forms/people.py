"""What an admin types about people, read into plain values."""

from datetime import datetime
from typing import Any

from django import forms

from accounts.models import Instructor, Student, User
from bookings.domain.families import is_child
from bookings.domain.zone_names import current_name
from bookings.domain.zones import zone
from bookings.pages.forms.fields import DayField, PlainText, zone_choices

AGES = [
    ("", "Choose"),
    ("adult", "An adult, 18 or older"),
    ("minor", "A minor, under 18"),
]


class AccountForm(forms.Form):
    """Name and email address of an account."""

    name = PlainText(max_length=120, label="Name")
    email = forms.EmailField(
        max_length=254,
        label="Email address",
        help_text="They sign in with it. A new address signs them out everywhere,"
        " and the old one gets an email.",
    )


class StudentForm(forms.Form):
    """The school's record of a student. Name and clock only if no account has them."""

    name = PlainText(max_length=120, label="Name")
    level = forms.IntegerField(min_value=1, max_value=10, label="Level")
    unit = forms.IntegerField(min_value=1, max_value=99, initial=1, label="Unit")
    age = forms.ChoiceField(choices=AGES, label="Adult or minor")
    adult_on = DayField(
        required=False,
        label="18th birthday",
        help_text="For a minor. From that day the student is an adult here.",
    )
    time_zone = forms.ChoiceField(label="Clock")

    def __init__(self, data: Any = None, *, student: Student | None = None, now: datetime) -> None:
        super().__init__(data, initial=_typed(student, now) if student is not None else None)
        self._now, self._zone = now, student.zone if student is not None else ""
        clock: Any = self.fields["time_zone"]
        clock.choices = zone_choices(self._zone)
        if student is not None and student.user_id is not None:
            del self.fields["name"], self.fields["time_zone"]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        age, adult_on = values.pop("age", ""), values.get("adult_on")
        today = self._now.astimezone(zone(values.get("time_zone") or self._zone or "UTC")).date()
        is_ahead = adult_on is not None and adult_on > today
        if age == "minor" and "adult_on" not in self.errors and not is_ahead:
            self.add_error(
                "adult_on", "Enter the date of the 18th birthday. It must be in the future."
            )
        if age == "adult" and is_ahead:
            self.add_error("adult_on", "Leave this empty for an adult, or choose “A minor”.")
        return values


class RegularInstructorForm(forms.Form):
    """The instructor a student belongs to, of those who teach now; None for nobody."""

    regular_instructor = forms.TypedChoiceField(
        required=False, empty_value=None, label="Regular instructor"
    )

    def __init__(self, data: Any = None, *, student: Student, teachers: list[Instructor]) -> None:
        super().__init__(data, initial={"regular_instructor": student.regular_instructor_id or ""})
        people = {str(teacher.pk): teacher for teacher in teachers}
        choice: Any = self.fields["regular_instructor"]
        choice.choices = [("", "Nobody"), *((pk, str(one)) for pk, one in people.items())]
        choice.coerce = people.__getitem__


def _typed(student: Student, now: datetime) -> dict[str, Any]:
    return {
        "name": student.full_name,
        "level": student.level,
        "unit": student.unit,
        "age": "minor" if is_child(student, now) else "adult",
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
        help_text="One a line. {child} is the child’s first name, {opens} and {closes}"
        " are a minor’s hours, {school} is the school.",
        widget=forms.Textarea(attrs={"rows": 14}),
    )


class MeForm(forms.Form):
    """One's own name and clock."""

    name = PlainText(
        max_length=120, label="Your name", widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    time_zone = forms.ChoiceField(label="Your clock")

    def __init__(self, data: Any = None, *, initial: dict[str, Any]) -> None:
        current = current_name(initial["time_zone"])
        super().__init__(data, initial={**initial, "time_zone": current})
        zone_field: Any = self.fields["time_zone"]
        zone_field.choices = zone_choices(current)
