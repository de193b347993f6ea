"""Which students a list shows: part of a name, a level, an instructor."""

from typing import Any

from django import forms

from accounts.models import Instructor
from bookings.pages.forms.fields import PlainText
from bookings.queries.my_students import Wanted

WITHOUT_LESSON = "no-lesson"
SHOWN = [("", "All"), (WITHOUT_LESSON, "Without a next lesson")]
LEVELS = [("", "Any level"), *((str(level), f"Level {level}") for level in range(1, 11))]


class StudentsForm(forms.Form):
    """Part of a name, a level and, for admins, an instructor; cleaned, None is anybody."""

    q = PlainText(
        required=False,
        max_length=80,
        label="Part of a name",
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    level = forms.TypedChoiceField(
        required=False, empty_value=None, coerce=int, choices=LEVELS, label="Level"
    )
    show = forms.ChoiceField(required=False, choices=SHOWN, label="Lessons")
    instructor = forms.TypedChoiceField(required=False, empty_value=None, label="Instructor")

    def __init__(self, data: Any, *, is_due: bool, teachers: list[Instructor] | None) -> None:
        super().__init__(data)
        if is_due:
            del self.fields["show"]
        if teachers is None:
            del self.fields["instructor"]
            return
        choice: Any = self.fields["instructor"]
        choice.choices = [("", "Everybody"), *((str(one.pk), str(one)) for one in teachers)]
        choice.coerce = {str(one.pk): one for one in teachers}.__getitem__

    def wanted(self, whose: Instructor | None) -> Wanted:
        """What a valid form asks for, of the students of `whose` unless an admin names another."""
        asked = self.cleaned_data
        return Wanted(
            instructor=asked.get("instructor") or whose,
            words=asked["q"],
            level=asked["level"],
            without_next_lesson=asked.get("show") == WITHOUT_LESSON,
        )

    def is_narrowed(self) -> bool:
        """Whether anything is asked for."""
        return any(self.data.get(name) for name in self.fields)
