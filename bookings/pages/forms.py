"""What people type, read into plain values. Rules are not judged here: the operations do that."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from bookings.domain.hours import WEEKDAYS
from bookings.domain.typed_hours import read_week, say_hours
from bookings.domain.vocabulary import FeedKind
from bookings.domain.zone_names import current_name
from bookings.operations.intakes import IntakeText
from bookings.operations.notes import TECHNIQUES, NoteText
from bookings.pages.fields import (
    ClockField,
    DayField,
    PlainText,
    zone_choices,
)


class IntakeForm(forms.Form):
    """What a student writes before a meeting."""

    question_1 = PlainText(required=False, max_length=300, label="Your most pressing question")
    question_2 = PlainText(required=False, max_length=300, label="A second question")
    question_3 = PlainText(required=False, max_length=300, label="A third question")
    pieces = PlainText(required=False, max_length=500, label="Pieces and drills in hand")
    recordings = PlainText(
        required=False,
        max_length=1000,
        label="Recordings you have sent",
        help_text="Up to three addresses or titles, one a line.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    obstacle = PlainText(required=False, max_length=500, label="The obstacle, in one sentence")

    def clean_recordings(self) -> list[str]:
        lines = [
            line.strip() for line in self.cleaned_data["recordings"].split("\n") if line.strip()
        ]
        if len(lines) > 3:
            raise ValidationError("Name at most three recordings.")
        return lines

    def text(self) -> IntakeText:
        """The same for the operation."""
        values = self.cleaned_data
        questions = [values[f"question_{rank}"].strip() for rank in (1, 2, 3)]
        return IntakeText(
            questions=[question for question in questions if question],
            pieces=values["pieces"].strip(),
            recordings=values["recordings"],
            obstacle=values["obstacle"].strip(),
        )


class WeekForm(forms.Form):
    """Teaching hours as typed: one line a weekday, "9-12, 15:30-20:30"; an empty line is a day without."""

    time_zone = forms.ChoiceField(label="Time zone of these hours")
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        data: Any = None,
        *,
        time_zone: str,
        windows: dict[int, list[tuple[int, int]]],
        version: int,
    ) -> None:
        initial = {f"day_{weekday}": say_hours(windows.get(weekday, [])) for weekday in range(7)}
        super().__init__(data, initial={**initial, "time_zone": time_zone, "version": version})
        zone_field: Any = self.fields["time_zone"]
        zone_field.choices = zone_choices(time_zone)
        for weekday, name in enumerate(WEEKDAYS):
            self.fields[f"day_{weekday}"] = PlainText(required=False, max_length=120, label=name)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        week = read_week([values.get(f"day_{weekday}", "") for weekday in range(7)])
        for weekday, faults in week.faults.items():
            self.add_error(f"day_{weekday}", list(faults))
        return {**values, "windows": week.windows}


class ExtraHoursForm(forms.Form):
    on = DayField(label="On")
    opens = ClockField(label="From")
    closes = ClockField(label="To")


class HoursFileForm(forms.Form):
    """A calendar file with availability in it."""

    calendar = forms.FileField(
        label="A calendar file (.ics)",
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
    )


class FeedForm(forms.Form):
    """A new calendar address. `meeting` comes from a roster's own button; one `uid` makes one address."""

    label = PlainText(label="A name, such as Phone", max_length=60)
    shows = forms.ChoiceField(
        label="It shows",
        choices=[
            (FeedKind.MEETINGS.value, "my meetings"),
            (FeedKind.FREE_BUSY.value, "only when I am busy"),
        ],
        required=False,
    )
    names_children = forms.BooleanField(label="Show my children’s first names", required=False)
    meeting = forms.IntegerField(required=False, min_value=1, max_value=2**63 - 1)
    uid = forms.UUIDField(required=False, widget=forms.HiddenInput)


class AwayForm(forms.Form):
    """Days away; the reason is asked for once the meetings on them have been shown."""

    first_on = DayField(label="First day away")
    last_on = DayField(label="Last day away")
    call_off_why = PlainText(
        label="Why they are called off",
        help_text="One sentence. Everybody in these meetings reads it. Say nothing about anybody’s health.",
        required=False,
        max_length=200,
    )

    def __init__(self, *args: Any, asks_why: bool = False, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["call_off_why"].required = asks_why

    def clean_call_off_why(self) -> str | None:
        return self.cleaned_data["call_off_why"].strip() or None


_PRIVATE = (
    "The student does not see this. Safeguarding concerns go to the named officer, never here."
)


def note_fields() -> list[tuple[str, str, int, str]]:
    """(name, label, longest, help) of an assessment's texts, in the order they are read."""
    return [
        ("strengths", "What goes well", 2000, ""),
        ("obstacle", "The obstacle", 2000, ""),
        ("next_step", "The next step", 2000, "Needed for release: what the student takes away."),
        (
            "goal",
            "The goal",
            2000,
            "Needed for release: where this leads, and how they will hear it.",
        ),
        (
            "practice_plan",
            "Practice plan",
            4000,
            "Minutes a day, what to work on, and what to review.",
        ),
        (
            "caution",
            "A caution about pain or hearing",
            1000,
            "The student sees this. It is teaching, not medical advice.",
        ),
        (
            "private_remarks",
            "Private remarks",
            4000,
            "The student does not see this. Safeguarding concerns go to the named officer, never here.",
        ),
    ]


class AssessmentForm(forms.Form):
    """An assessment as its author writes it."""

    heard_on = DayField(label="Heard on")
    level = forms.IntegerField(min_value=1, max_value=10)
    unit = forms.IntegerField(min_value=1, max_value=99)

    def __init__(self, data: Any = None, *, initial: dict[str, Any]) -> None:
        bands = initial.get("bands") or {}
        super().__init__(
            data,
            initial={
                **initial,
                **{f"band_{place}": bands.get(name, "") for place, name in enumerate(TECHNIQUES)},
            },
        )
        steps = [
            ("", "not heard"),
            ("1", "1, beginning"),
            ("2", "2, growing"),
            ("3", "3, steady"),
            ("4", "4, free"),
        ]
        for place, name in enumerate(TECHNIQUES):
            self.fields[f"band_{place}"] = forms.ChoiceField(
                choices=steps, required=False, label=name.capitalize()
            )
        for name, label, longest, told in note_fields():
            box = forms.Textarea(attrs={"rows": 3})
            self.fields[name] = PlainText(
                required=False, max_length=longest, label=label, help_text=told, widget=box
            )

    def bands(self) -> list[forms.BoundField]:
        return [self[f"band_{place}"] for place in range(len(TECHNIQUES))]

    def texts(self) -> list[forms.BoundField]:
        return [self[name] for name, *_ in note_fields()]

    def text(self) -> NoteText:
        """The same for the operation."""
        values = self.cleaned_data
        bands = {
            name: int(values[f"band_{place}"])
            for place, name in enumerate(TECHNIQUES)
            if values[f"band_{place}"]
        }
        said = {name: values[name].strip() for name, *_ in note_fields()}
        return NoteText(
            level=values["level"],
            unit=values["unit"],
            heard_on=values["heard_on"],
            bands=bands,
            **said,
        )


class MeForm(forms.Form):
    name = PlainText(
        max_length=120, label="Your name", widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    time_zone = forms.ChoiceField(label="Your clock")

    def __init__(self, data: Any = None, *, initial: dict[str, Any]) -> None:
        current = current_name(initial["time_zone"])
        super().__init__(data, initial={**initial, "time_zone": current})
        zone_field: Any = self.fields["time_zone"]
        zone_field.choices = zone_choices(current)
