"""What people type, read into plain values. Rules are not judged here: the operations do that."""

from datetime import datetime
from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from accounts.models import Instructor, Student
from bookings.domain.hours import WEEKDAYS
from bookings.domain.vocabulary import FeedKind, Kind
from bookings.models import Offering
from bookings.operations.intakes import IntakeText
from bookings.operations.notes import TECHNIQUES, NoteText
from bookings.pages.fields import (
    ClockField,
    DayField,
    PlainText,
    read_windows,
    say_windows,
    wall_time,
    zone_choices,
)


class TimesForm(forms.Form):
    """What a student looks for. `since` is the first day shown; the two times are on her clock."""

    offering = forms.ModelChoiceField(
        Offering.objects.none(), empty_label=None, required=False, label="What"
    )
    instructor = forms.ModelChoiceField(Instructor.objects.none(), required=False, label="With")
    since = DayField(required=False, label="From")
    earliest = ClockField(required=False, label="Not before")
    latest = ClockField(required=False, label="Over by")

    def __init__(self, data: Any, *, student: Student) -> None:
        super().__init__(data)
        taught = {
            "taught_by__lowest_level__lte": student.level,
            "taught_by__highest_level__gte": student.level,
        }
        one_on_one = [kind.value for kind in Kind if kind.is_one_on_one]
        offerings = Offering.objects.filter(
            is_open=True, kind__in=one_on_one, taught_by__instructor__is_active=True, **taught
        )
        self.offerings = offerings.distinct().order_by("kind", "name")
        what: Any = self.fields["offering"]
        what.queryset = self.offerings
        people = Instructor.objects.filter(
            is_active=True,
            teaches__offering__in=offerings,
            teaches__lowest_level__lte=student.level,
            teaches__highest_level__gte=student.level,
        )
        who: Any = self.fields["instructor"]
        who.queryset = people.select_related("user").distinct().order_by("user__name")
        who.empty_label = f"Anyone who teaches level {student.level}"

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        earliest, latest = values.get("earliest"), values.get("latest")
        if earliest is not None and latest is not None and latest <= earliest:
            self.add_error("latest", "Choose an end after the beginning.")
        return values


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
            raise ValidationError("Name three recordings at most.")
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
    """Teaching hours as typed: one line a weekday, "15:30-20:30, 21:00-22:00"; an empty line is a day without."""

    time_zone = forms.ChoiceField(label="The clock of these hours")
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        data: Any = None,
        *,
        time_zone: str,
        windows: dict[int, list[tuple[int, int]]],
        version: int,
    ) -> None:
        initial = {f"day_{weekday}": say_windows(windows.get(weekday, [])) for weekday in range(7)}
        super().__init__(data, initial={**initial, "time_zone": time_zone, "version": version})
        zone_field: Any = self.fields["time_zone"]
        zone_field.choices = zone_choices(time_zone)
        for weekday, name in enumerate(WEEKDAYS):
            self.fields[f"day_{weekday}"] = PlainText(required=False, max_length=120, label=name)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        windows = []
        for weekday in range(7):
            try:
                windows += [
                    (weekday, opens, closes)
                    for opens, closes in read_windows(values.get(f"day_{weekday}", ""))
                ]
            except ValidationError as error:
                self.add_error(f"day_{weekday}", error)
        return {**values, "windows": windows}


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
    """A new calendar address. `meeting` comes from a roster's own button."""

    label = PlainText(label="A name, such as Phone", max_length=60)
    shows = forms.ChoiceField(
        label="It shows",
        choices=[
            (FeedKind.MEETINGS.value, "my meetings"),
            (FeedKind.FREE_BUSY.value, "only when I am taken"),
        ],
        required=False,
    )
    names_children = forms.BooleanField(label="Show my children’s first names", required=False)
    meeting = forms.IntegerField(required=False, min_value=1, max_value=2**63 - 1)


class AwayForm(forms.Form):
    first_on = DayField(label="First day away")
    last_on = DayField(label="Last day away")
    call_off_why = forms.CharField(
        label="Meetings on those days are called off because",
        help_text="Everybody in them is told this. Left empty, nothing is called off: you are shown what stands in the way.",
        required=False,
        max_length=200,
        empty_value=None,
    )


_PRIVATE = (
    "Not part of the student’s view. Safeguarding concerns go to the named officer, never here."
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
            "Needed for release: where this leads, and how she will hear it.",
        ),
        ("practice_plan", "Practice plan", 4000, "Minutes a day, what on, and what is reviewed."),
        (
            "caution",
            "A caution about pain or hearing",
            1000,
            "Seen by the student. This is teaching, not medical advice.",
        ),
        (
            "private_remarks",
            "Private remarks",
            4000,
            "Not part of the student's view. Safeguarding concerns go to the named officer, never here.",
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


class MeetingForm(forms.Form):
    """A new group meeting; the wall time is on the instructor's clock."""

    offering = forms.ModelChoiceField(
        Offering.objects.filter(
            is_open=True, kind__in=[Kind.GROUP_MEETING.value, Kind.MASTERCLASS.value]
        ),
        label="What",
    )
    instructor = forms.ModelChoiceField(
        Instructor.objects.filter(is_active=True).select_related("user"), label="With"
    )
    title = PlainText(max_length=120, label="Theme")
    on = DayField(label="On")
    at = ClockField(label="At", help_text="On the instructor's clock.")
    places = forms.IntegerField(
        min_value=1, max_value=500, label="Places", help_text="Player places, in a masterclass."
    )
    listener_places = forms.IntegerField(
        min_value=0, max_value=1000, required=False, initial=0, label="Listener places"
    )
    join_address = forms.URLField(
        max_length=300,
        required=False,
        assume_scheme="https",
        label="Address to join at",
        help_text="Empty: the instructor's room.",
    )

    def wall(self) -> datetime:
        """The wall time asked for, without an offset."""
        return wall_time(self.cleaned_data["on"], self.cleaned_data["at"])


class MeForm(forms.Form):
    name = PlainText(
        max_length=120, label="Your name", widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    time_zone = forms.ChoiceField(label="Your clock")

    def __init__(self, data: Any = None, *, initial: dict[str, Any]) -> None:
        super().__init__(data, initial=initial)
        zone_field: Any = self.fields["time_zone"]
        zone_field.choices = zone_choices(initial["time_zone"])


class WelcomeForm(MeForm):
    password = forms.CharField(
        label="A password of your own",
        help_text="At least 10 characters; a sentence is easy to remember.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        validate_password(password)
        return password


class InviteForm(forms.Form):
    """Whom an admin invites, and as what."""

    AS = [
        ("student", "a student"),
        ("guardian", "a guardian"),
        ("instructor", "an instructor"),
        ("admin", "an admin"),
    ]
    name = PlainText(max_length=120, label="Name")
    email = forms.EmailField(max_length=254, label="Email address")
    role = forms.ChoiceField(choices=AS, label="As")
    of = forms.ModelChoiceField(
        Student.objects.filter(is_active=True).select_related("user"),
        required=False,
        label="Which student",
        empty_label="nobody",
        help_text="For a student or a guardian.",
    )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if values.get("role") in ("student", "guardian") and not values.get("of"):
            self.add_error("of", "Choose the student whose account or guardian this is.")
        return values
