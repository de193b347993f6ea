"""What an admin types about people, read into plain values."""

from datetime import datetime
from typing import Any

from django import forms

from accounts.models import Instructor, Student, User
from bookings.domain.ages import age_fault
from bookings.domain.families import is_child
from bookings.domain.zone_names import current_name
from bookings.domain.zones import zone
from bookings.pages.forms.fields import DayField, PlainText, zone_choices
from bookings.pages.forms.picking import PersonField
from bookings.queries.picking import Whom

AGES = [
    ("", "Choose"),
    ("adult", "An adult, 18 or older"),
    ("minor", "A minor, under 18"),
]


class AccountForm(forms.Form):
    """Name and clock of an account."""

    name = PlainText(max_length=120, label="Name")
    time_zone = forms.ChoiceField(
        label="Clock", help_text="Every page and email shows them times on this clock."
    )

    def __init__(self, data: Any = None, *, user: User) -> None:
        current = current_name(user.zone)
        super().__init__(data, initial={"name": user.name, "time_zone": current})
        clock: Any = self.fields["time_zone"]
        clock.choices = zone_choices(current)


class AddressForm(forms.Form):
    """Another email address for an account."""

    email = forms.EmailField(
        max_length=254,
        label="New email address",
        help_text="A link is sent to it. The account changes once the person has opened the link,"
        " and they are then signed out everywhere. The old address is told at once.",
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
        wrong = age_fault(age == "minor", adult_on, today) if age else ""
        if wrong and "adult_on" not in self.errors:
            self.add_error("adult_on", wrong)
        return values


class PeopleFileForm(forms.Form):
    """A file of people."""

    file = forms.FileField(
        label="CSV file",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,text/csv"}),
        help_text="At most 5,000 people and 2 MB.",
        error_messages={"required": "Choose a file.", "empty": "This file is empty."},
    )


class RegularInstructorForm(forms.Form):
    """The instructor a student belongs to, of those who teach now; empty for nobody."""

    regular_instructor = PersonField(
        Whom.INSTRUCTOR,
        required=False,
        label="Instructor",
        help_text="Type part of a name or an email address. Leave this empty for nobody.",
    )

    def __init__(self, data: Any = None, *, student: Student, teachers: list[Instructor]) -> None:
        """`teachers` are suggested before anything is typed."""
        super().__init__(data, initial={"regular_instructor": student.regular_instructor})
        box: Any = self.fields["regular_instructor"].widget
        box.suggested = teachers


def _typed(student: Student, now: datetime) -> dict[str, Any]:
    return {
        "name": student.full_name,
        "level": student.level,
        "unit": student.unit,
        "age": "minor" if is_child(student, now) else "adult",
        "adult_on": student.adult_on,
        "time_zone": student.zone,
    }


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
