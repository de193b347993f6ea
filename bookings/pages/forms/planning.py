"""The forms of plans: what is to be decided, in the admin's words."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django import forms

from bookings.domain.instants import resolve_once
from bookings.domain.planning.group import Form
from bookings.domain.plans import PATIENCE_SECONDS
from bookings.domain.zones import place
from bookings.models import Term
from bookings.pages.forms.fields import CHOOSE, ClockField, DayField, PlainText, wall_time
from bookings.queries.offerings import group_offerings, private_lessons, teaching_now
from bookings.queries.terms import terms_not_over

FORMS = [
    (Form.SERIES.value, "All members on each date"),
    (Form.PARALLEL.value, "Each member at one of several meetings"),
]
SECONDS = [(10, "10 seconds"), (PATIENCE_SECONDS, "A minute"), (600, "Ten minutes")]


class GroupPlanForm(forms.Form):
    """When a group should meet. The members are chosen beside it."""

    offering = forms.ModelChoiceField(group_offerings(), label="What", empty_label=CHOOSE)
    title = PlainText(max_length=120, label="Theme")
    instructors = forms.ModelMultipleChoiceField(
        teaching_now(), label="With one of", widget=forms.CheckboxSelectMultiple
    )
    first_on = DayField(label="From")
    last_on = DayField(label="To", help_text="Both days included, on the instructor’s clock.")
    mode = forms.ChoiceField(choices=FORMS, label="How they meet")
    meetings = forms.IntegerField(min_value=1, max_value=40, initial=1, label="Meetings")
    days_apart = forms.IntegerField(
        min_value=1,
        max_value=60,
        initial=7,
        label="Days apart, at least",
        help_text="Between two dates of a series.",
    )
    places = forms.IntegerField(min_value=1, max_value=500, label="Places in each meeting")
    answer_on = DayField(required=False, label="Ask families for their hours until")
    answer_at = ClockField(required=False, label="Until what time")
    seconds = forms.TypedChoiceField(
        choices=SECONDS, coerce=int, initial=PATIENCE_SECONDS, label="Look for the best answer for"
    )

    def __init__(self, data: Any, *, time_zone: str) -> None:
        super().__init__(data)
        self.time_zone = time_zone
        self.fields["answer_at"].help_text = (
            f"On the clock of {place(time_zone)}. Each family gets an email, and the plan can be "
            "adopted after that time. Leave both empty to go by the hours that families have saved."
        )

    def clean(self) -> None:
        given = [name for name in _ANSWER if self.cleaned_data.get(name) is not None]
        for name in _ANSWER if given or self.errors.keys() & set(_ANSWER) else ():
            if name not in given and name not in self.errors:
                self.add_error(name, "Give the day and the time together, or leave both empty.")

    def answer_by(self) -> datetime | None:
        """Until when the families are asked for their hours; None where that was left empty.

        Refused as `resolve_once`.
        """
        on, minute = (self.cleaned_data[name] for name in _ANSWER)
        return None if on is None else resolve_once(wall_time(on, minute), self.time_zone)

    def asked(self, students: list[int]) -> dict[str, Any]:
        """What a valid form asks for, as plain values."""
        values = self.cleaned_data
        return {
            **{name: values[name] for name in ("title", "mode", "meetings", "days_apart")},
            "places": values["places"],
            "seconds": values["seconds"],
            "first_on": values["first_on"],
            "last_on": values["last_on"],
            "offering": values["offering"].pk,
            "instructors": [one.pk for one in values["instructors"]],
            "students": students,
        }


_ANSWER = ("answer_on", "answer_at")


class TimetableForm(forms.Form):
    """The timetable of a term. The students are chosen beside it."""

    term: Any = forms.ModelChoiceField(None, label="Term", empty_label=CHOOSE)
    offering = forms.ModelChoiceField(private_lessons(), label="Lesson", empty_label=CHOOSE)
    instructors = forms.ModelMultipleChoiceField(
        teaching_now(), label="With", widget=forms.CheckboxSelectMultiple
    )
    seconds = forms.TypedChoiceField(
        choices=SECONDS, coerce=int, initial=PATIENCE_SECONDS, label="Look for the best answer for"
    )

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__(data)
        term: Any = self.fields["term"]
        term.queryset = terms_not_over(today)

    def asked(self, students: list[int], consents: list[int]) -> dict[str, Any]:
        """What a valid form asks for, as plain values."""
        values = self.cleaned_data
        return {
            "term": values["term"].pk,
            "offering": values["offering"].pk,
            "instructors": [one.pk for one in values["instructors"]],
            "students": students,
            "consents": [pk for pk in consents if pk in students],
            "seconds": values["seconds"],
        }


class ExchangePlanForm(forms.Form):
    """The term whose families' orders are read."""

    term = forms.TypedChoiceField(coerce=int, label="Term")

    def __init__(self, data: Any, *, terms: Iterable[Term]) -> None:
        super().__init__(data)
        choice: Any = self.fields["term"]
        choice.choices = [(term.pk, str(term)) for term in terms]
