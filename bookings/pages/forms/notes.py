"""An assessment as its author writes it, read into plain values."""

from typing import Any

from django import forms

from bookings.operations.notes import TECHNIQUES, NoteText
from bookings.pages.forms.fields import DayField, PlainText

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
            _PRIVATE,
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
