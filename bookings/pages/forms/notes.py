"""A note as its author writes it, read into plain values."""

import re
from collections.abc import Iterable, Sequence
from typing import Any

from django import forms

from bookings.domain.notes import FOLLOW_UPS, MOST_HEARD, MOST_STEPS
from bookings.domain.practice import LONGEST_WHAT, MOST_ITEMS, MOST_MINUTES, PracticeItem
from bookings.domain.techniques import BAND_WORDS
from bookings.domain.vocabulary import GoalOutcome, NoteForm
from bookings.operations.note_text import NoteText
from bookings.pages.forms.fields import DayField, PlainText

FORM_WORDS = {NoteForm.ASSESSMENT: "assessment", NoteForm.LESSON_NOTE: "lesson note"}
OUTCOME_WORDS = {
    GoalOutcome.MET: "met",
    GoalOutcome.PARTLY: "partly met",
    GoalOutcome.NOT_YET: "not met yet",
}
_PRIVATE = (
    "The student does not see this, but can ask to read it as part of their personal data. "
    "Safeguarding concerns go to the named officer, never here."
)
_BANDS = [("", "not heard"), *((str(n), f"{n}, {word}") for n, word in BAND_WORDS.items())]
FIRST_ROWS = 3
"""Rows of the practice plan that are open at first."""
_LINES = ("heard", "next_steps")
_TEXTS = ("strengths", "obstacle", "goal", "caution", "private_remarks")


def _area(label: str, longest: int, told: str = "") -> PlainText:
    box = forms.Textarea(attrs={"rows": 3})
    return PlainText(required=False, max_length=longest, label=label, help_text=told, widget=box)


class AssessmentForm(forms.Form):
    """A note as its author writes it: `techniques` by name, and rows of the practice plan."""

    heard_on = DayField(label="Heard on")
    level = forms.IntegerField(min_value=1, max_value=10)
    unit = forms.IntegerField(min_value=1, max_value=99)
    form = forms.ChoiceField(
        label="Kind of note",
        choices=[(form.value, word.capitalize()) for form, word in FORM_WORDS.items()],
    )
    heard = _area("Pieces and drills heard", 2000, f"One a line, up to {MOST_HEARD}.")
    strengths = _area("What goes well", 2000)
    obstacle = _area("The obstacle", 2000)
    last_goal = forms.ChoiceField(
        label="The goal of the note before",
        required=False,
        choices=[
            ("", "no word on it"),
            *((one.value, word) for one, word in OUTCOME_WORDS.items()),
        ],
    )
    next_steps = _area(
        "Next steps",
        1000,
        f"One a line, up to {MOST_STEPS}. An assessment needs one: what the student takes away.",
    )
    goal = _area(
        "The goal", 2000, "An assessment needs one: where this leads, and how they will hear it."
    )
    goal_on = DayField(label="By", required=False)
    follow_up_weeks = forms.TypedChoiceField(
        label="Meet again",
        required=False,
        coerce=int,
        empty_value=None,
        choices=[
            ("", "no date"),
            *((str(n), f"in {word} weeks") for n, word in FOLLOW_UPS.items()),
        ],
    )
    caution = _area(
        "A caution about pain or hearing",
        1000,
        "The student sees this. It is teaching, not medical advice.",
    )
    private_remarks = _area("Private remarks", 4000, _PRIVATE)

    def __init__(
        self, data: Any = None, *, initial: dict[str, Any], techniques: Iterable[str]
    ) -> None:
        self._bands = _field_names(techniques)
        given, rows = initial.get("bands") or {}, initial.get("practice") or []
        typed = {name: "\n".join(initial.get(name) or []) for name in _LINES}
        banded = {field: str(given.get(name, "")) for name, field in self._bands.items()}
        super().__init__(data, initial={**initial, **typed, **banded, **_typed_rows(rows)})
        for name, field in self._bands.items():
            self.fields[field] = forms.ChoiceField(
                choices=_BANDS, required=False, label=name.capitalize()
            )
        for number in range(MOST_ITEMS):
            self._add_row(number)

    def _add_row(self, number: int) -> None:
        of = f", item {number + 1}"
        self.fields[f"what_{number}"] = PlainText(
            required=False, max_length=LONGEST_WHAT, label=f"What to practise{of}"
        )
        self.fields[f"minutes_{number}"] = forms.IntegerField(
            required=False, min_value=1, max_value=MOST_MINUTES, label=f"Minutes a day{of}"
        )
        self.fields[f"review_{number}"] = forms.BooleanField(
            required=False, label=f"An older piece{of}"
        )

    def clean(self) -> dict[str, Any]:
        for number in range(MOST_ITEMS):
            what, minutes = (self.cleaned_data.get(f"{n}_{number}") for n in ("what", "minutes"))
            if what and not minutes and f"minutes_{number}" not in self.errors:
                self.add_error(f"minutes_{number}", "Say how many minutes a day.")
            if minutes and not what and f"what_{number}" not in self.errors:
                self.add_error(f"what_{number}", "Say what to practise in these minutes.")
        return self.cleaned_data

    def bands(self) -> list[forms.BoundField]:
        return [self[field] for field in self._bands.values()]

    def practice_rows(self) -> list[list[forms.BoundField]]:
        """The fields of the practice plan, three an item."""
        names = ("what", "minutes", "review")
        return [[self[f"{name}_{number}"] for name in names] for number in range(MOST_ITEMS)]

    def first_rows(self) -> list[list[forms.BoundField]]:
        """The rows of the practice plan that are open: three, or as many as are filled in."""
        rows = self.practice_rows()
        filled = [number for number, row in enumerate(rows, start=1) if row[0].value()]
        return rows[: max([FIRST_ROWS, *filled])]

    def more_rows(self) -> list[list[forms.BoundField]]:
        """The others."""
        return self.practice_rows()[len(self.first_rows()) :]

    def text(self) -> NoteText:
        """The same for the operation."""
        said = self.cleaned_data
        bands = {name: int(said[field]) for name, field in self._bands.items() if said[field]}
        plain = ("form", "level", "unit", "heard_on", "last_goal", "goal_on", "follow_up_weeks")
        return NoteText(
            **{name: said[name] for name in plain if name in self.fields},
            **{name: said[name].split("\n") for name in _LINES},
            **{name: said[name].strip() for name in _TEXTS},
            bands=bands,
            practice=[
                PracticeItem(
                    what=said[f"what_{number}"].strip(),
                    minutes=said[f"minutes_{number}"],
                    is_review=said[f"review_{number}"],
                )
                for number in range(MOST_ITEMS)
                if said[f"what_{number}"]
            ],
        )


def _field_names(techniques: Iterable[str]) -> dict[str, str]:
    """A form field for each technique, named for it: the list may change while it is filled in."""
    found: dict[str, str] = {}
    for name in techniques:
        field = f"band_{re.sub(r'[^a-z0-9]+', '_', name.casefold()).strip('_')}"
        found[name] = f"{field}_{len(found)}" if field in found.values() else field
    return found


def _typed_rows(items: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """A stored practice plan as the fields of the form."""
    return {
        f"{field}_{number}": item[name]
        for number, item in enumerate(items)
        for field, name in (("what", "what"), ("minutes", "minutes"), ("review", "is_review"))
    }
