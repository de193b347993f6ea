"""What a list is narrowed by: words, and choices among a few. It is kept in the address."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from accounts.models import Instructor
from bookings.pages.forms.fields import PlainText
from bookings.pages.plan_words import STATES, TITLES

LONGEST_WORDS = 80


def _any_of(words: Mapping[Any, str]) -> list[tuple[str, str]]:
    return [("", "Any"), *((word.value, said) for word, said in words.items())]


class ChoicesForm(forms.Form):
    """What a list is narrowed by. A form with a fault narrows nothing."""

    def asked(self, name: str) -> Any:
        """What is asked for in this field; nothing where the form has a fault."""
        return self.cleaned_data.get(name) or "" if self.is_valid() else ""

    @property
    def is_narrowed(self) -> bool:
        """Whether anything is asked for."""
        return any(self.data.get(name) for name in self.fields)


class ListForm(ChoicesForm):
    """The words of a list's search; a list with other choices adds them as fields."""

    q = PlainText(
        required=False,
        max_length=LONGEST_WORDS,
        label="Part of a name",
        widget=forms.TextInput(attrs={"type": "search"}),
    )

    def __init__(self, data: Any, *, words: str = "", **options: Any) -> None:
        super().__init__(data, **options)
        if words:
            self.fields["q"].label = words

    @property
    def words(self) -> str:
        """The words that are asked for, which may be none."""
        return str(self.asked("q"))


class PlansForm(ChoicesForm):
    """Plans of one kind, or of one state."""

    kind = forms.ChoiceField(required=False, label="Kind", choices=_any_of(TITLES))
    state = forms.ChoiceField(required=False, label="State", choices=_any_of(STATES))


class TaughtForm(ListForm):
    """Words and, for whoever reads of all instructors, one of them."""

    instructor = forms.TypedChoiceField(required=False, empty_value=None, label="Instructor")

    def __init__(self, data: Any, *, teachers: Iterable[Instructor] | None, **more: Any) -> None:
        super().__init__(data, **more)
        if teachers is None:
            del self.fields["instructor"]
        else:
            known = {str(one.pk): one for one in teachers}
            choice: Any = self.fields["instructor"]
            choice.choices = [("", "Everybody"), *((pk, str(one)) for pk, one in known.items())]
            choice.coerce = known.__getitem__

    def narrows(self) -> dict[str, Any]:
        """The `words` and the `instructor` by which a query narrows its rows."""
        return {"words": self.words, "instructor": self.asked("instructor") or None}
