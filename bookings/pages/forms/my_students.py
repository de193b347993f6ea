"""Which students a list shows: part of a name, a level, an instructor."""

from typing import Any

from django import forms

from accounts.models import Instructor
from bookings.pages.forms.lists import TaughtForm
from bookings.queries.my_students import Wanted

WITHOUT_LESSON = "no-lesson"
SHOWN = [("", "All"), (WITHOUT_LESSON, "Without a next lesson")]
LEVELS = [("", "Any level"), *((str(level), f"Level {level}") for level in range(1, 11))]


class StudentsForm(TaughtForm):
    """Part of a name, a level and, for admins, an instructor; cleaned, None is anybody."""

    field_order = ["q", "level", "show", "instructor"]

    level = forms.TypedChoiceField(
        required=False, empty_value=None, coerce=int, choices=LEVELS, label="Level"
    )
    show = forms.ChoiceField(required=False, choices=SHOWN, label="Lessons")

    def __init__(self, data: Any, *, is_due: bool, teachers: list[Instructor] | None) -> None:
        super().__init__(data, teachers=teachers)
        if is_due:
            del self.fields["show"]

    def wanted(self, whose: Instructor | None) -> Wanted:
        """What a valid form asks for, of the students of `whose` unless an admin names another."""
        asked = self.cleaned_data
        return Wanted(
            instructor=asked.get("instructor") or whose,
            words=asked["q"],
            level=asked["level"],
            without_next_lesson=True if asked.get("show") == WITHOUT_LESSON else None,
        )
