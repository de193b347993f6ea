"""What an instructor writes after a group meeting: who came, a note for all, a line for one."""

from collections.abc import Iterable
from typing import Any

from django import forms

from bookings.domain import notes as rules
from bookings.domain.vocabulary import Attendance
from bookings.models import Booking
from bookings.operations.wrap_up_group import GroupText
from bookings.pages.forms.fields import PlainText, judge
from bookings.pages.forms.wrap_up import ATTENDANCE_WORDS
from bookings.queries.group_notes import GroupNotes

LONGEST_GOAL = 300
_MARK, _GOAL = "mark-", "goal-"


class GroupForm(forms.Form):
    """The common text, and for each booking who came and a goal.

    Everybody is present until the instructor says otherwise.
    """

    heard = PlainText(
        label="What you worked on",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=f"One a line, up to {rules.MOST_HEARD}. Everybody who came reads it, so name "
        "no student here.",
    )
    next_steps = PlainText(
        label="Next steps for everybody",
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=f"One a line, up to {rules.MOST_STEPS}.",
    )

    def __init__(self, data: Any, *, held: Iterable[Booking], notes: GroupNotes) -> None:
        initial = {"heard": "\n".join(notes.heard), "next_steps": "\n".join(notes.next_steps)}
        super().__init__(data, initial=initial)
        for booking in held:
            self._add(booking, notes)

    def _add(self, booking: Booking, notes: GroupNotes) -> None:
        who, draft = booking.student.first_name, notes.draft_of(booking)
        said = booking.mark.attendance if hasattr(booking, "mark") else Attendance.PRESENT.value
        self.fields[f"{_MARK}{booking.pk}"] = forms.ChoiceField(
            label=f"{who} was",
            required=False,  # somebody who joined meanwhile is not in the form
            choices=[(one.value, word) for one, word in ATTENDANCE_WORDS.items()],
            initial=said,
        )
        if notes.own_note_of(booking) is None:
            self.fields[f"{_GOAL}{booking.pk}"] = PlainText(
                label=f"A goal for {who}",
                required=False,
                max_length=LONGEST_GOAL,
                initial=draft.goal if draft is not None else "",
            )

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        judge(self, "heard", lambda: rules.checked_heard(said["heard"].split("\n")))
        judge(self, "next_steps", lambda: rules.checked_steps(said["next_steps"].split("\n")))
        return said

    def mark_of(self, booking: Booking) -> forms.BoundField:
        return self[f"{_MARK}{booking.pk}"]

    def goal_of(self, booking: Booking) -> forms.BoundField | None:
        """None for a student who has a note of their own."""
        name = f"{_GOAL}{booking.pk}"
        return self[name] if name in self.fields else None

    def came(self) -> dict[int, Attendance]:
        """The register as it was sent, by booking; also of somebody who has no place any more."""
        known = {one.value for one in Attendance}
        sent = {name: self.data[name] for name in self.data if name.startswith(_MARK)}
        return {
            int(name.removeprefix(_MARK)): Attendance(said)
            for name, said in sent.items()
            if said in known and name.removeprefix(_MARK).isdecimal()
        }

    def text(self) -> GroupText:
        """The common text and the goals for the operation."""
        said = self.cleaned_data
        return GroupText(
            heard=said["heard"].split("\n"),
            next_steps=said["next_steps"].split("\n"),
            goals={
                int(name.removeprefix(_GOAL)): goal.strip()
                for name, goal in said.items()
                if name.startswith(_GOAL)
            },
        )
