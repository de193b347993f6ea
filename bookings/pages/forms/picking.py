"""A person picked by typing: one text box with suggestions, and a list where several match.

It works without JavaScript: what was typed is sent, and the form comes back with whoever matches.
Only for forms of admins, because it names people.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from accounts.models import Instructor, Student, User
from bookings.pages.forms.fields import line_of
from bookings.queries.picking import (
    MOST_FOUND,
    MOST_SUGGESTED,
    Found,
    Whom,
    first_people,
    label_of,
    people_matching,
)

HELP = "Type part of a name or an email address."


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed, and which of those who matched `among` was ticked."""

    text: str
    ticked: str = ""
    among: str = ""


class PersonInput(forms.TextInput):
    """The text box, its suggestions, and the list of `found` to tick one of.

    `suggested` are the first suggestions, where the form has read them already.
    """

    def __init__(self, whom: Whom) -> None:
        super().__init__(attrs={"autocomplete": "off", "maxlength": 200})
        self.whom, self.found = whom, Found([], False)
        self.suggested: Sequence[Any] | None = None

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> Typed | None:
        if name not in data:
            return None
        return Typed(
            line_of(str(data[name])),
            str(data.get(f"{name}-ticked", "")),
            line_of(str(data.get(f"{name}-among", ""))),
        )

    def format_value(self, value: Any) -> str:
        if isinstance(value, Typed):
            return value.text
        if isinstance(value, (Student, Instructor, User)):
            return label_of(value)
        return "" if value is None else str(value)

    def render(
        self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None
    ) -> SafeString:
        listed = f"{(attrs or {}).get('id', name)}-found"
        more = {
            "list": listed,
            "data-people": f"{reverse('find-people')}?whom={self.whom}",
        }
        box = super().render(name, value, {**(attrs or {}), **more}, renderer)
        ticks = format_html_join(
            "",
            '<label class="tick"><input type="radio" name="{}-ticked" value="{}"> {}</label>',
            ((name, person.pk, label_of(person)) for person in self.found.people),
        )
        if ticks:
            among = format_html(
                '<input type="hidden" name="{}-among" value="{}">', name, self.format_value(value)
            )
            ticks = format_html(
                '<fieldset class="found"><legend>Who is meant?</legend>{}{}</fieldset>',
                ticks,
                among,
            )
        first = first_people(self.whom) if self.suggested is None else self.suggested
        options = format_html_join(
            "",
            '<option value="{}"></option>',
            ((label_of(person),) for person in first[:MOST_SUGGESTED]),
        )
        return format_html('{}<datalist id="{}">{}</datalist>{}', box, listed, options, ticks)


class PersonField(forms.Field):
    """One person of those that `whom` names; None where nobody was typed and none is needed."""

    def __init__(self, whom: Whom, **options: Any) -> None:
        options.setdefault("help_text", HELP)
        super().__init__(widget=PersonInput(whom), **options)
        self.whom = whom

    def prepare_value(self, value: Any) -> Any:
        """A person by id is shown by their label, as an address or an older form names them."""
        if isinstance(value, (int, str)) and str(value).isdecimal():
            return people_matching(self.whom, str(value)).only or value
        if isinstance(value, Typed) and value.text.isdecimal():
            person = people_matching(self.whom, value.text).only
            return Typed(label_of(person)) if person is not None else value
        return value

    def clean(self, value: Any) -> Any:
        typed = value if isinstance(value, Typed) else Typed(str(value or ""))
        if not typed.text:
            if self.required:
                raise ValidationError("Type a name or an email address.", code="required")
            return None
        widget: Any = self.widget
        is_ticked = typed.ticked and typed.among == typed.text
        found = people_matching(self.whom, typed.ticked if is_ticked else typed.text)
        if found.only is not None:
            return found.only
        if not found.people:
            raise ValidationError(f"Nobody matches “{typed.text[:60]}”.", code="nobody")
        widget.found = found
        more = (
            f" More than {MOST_FOUND} match: type more of the name if they are not among these."
            if found.has_more
            else ""
        )
        raise ValidationError(f"Several people match. Choose one of them.{more}", code="several")
