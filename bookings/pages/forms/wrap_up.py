"""What an instructor writes after a lesson: who came, the note, and the next date."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from django import forms

from bookings.domain import notes as rules
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, NoteForm
from bookings.operations.wrap_up import NextDate
from bookings.pages.forms.fields import judge
from bookings.pages.forms.notes import AssessmentForm
from bookings.pages.templatetags.formatting import utc

ATTENDANCE_WORDS = {
    Attendance.PRESENT: "Present",
    Attendance.LATE: "Late",
    Attendance.ABSENT_WITH_NOTICE: "Absent with notice",
    Attendance.ABSENT_WITHOUT_NOTICE: "Absent without notice",
    Attendance.INSTRUCTOR_ABSENT: "I could not teach",
}


class WrapUpForm(AssessmentForm):
    """A note about the meeting in which the student was heard, with the register and the date."""

    heard_on = None  # type: ignore[assignment]  # the meeting says it
    attendance = forms.ChoiceField(
        label="Who came",
        required=False,
        choices=[(one.value, word) for one, word in ATTENDANCE_WORDS.items()],
    )
    form = forms.ChoiceField(
        choices=[(form.value, form.value) for form in NoteForm], widget=forms.HiddenInput
    )
    next_date = forms.CharField(required=False, max_length=200)

    def __init__(
        self, data: Any = None, *, initial: dict[str, Any], techniques: Iterable[str]
    ) -> None:
        super().__init__(data, initial=initial, techniques=techniques)
        for name in ("heard", "obstacle", "next_steps", "goal", "caution", "private_remarks"):
            self.fields[name].widget.attrs["rows"] = 2
        self.fields["follow_up_weeks"].label = "See again"

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        judge(self, "heard", lambda: rules.checked_heard(said["heard"].split("\n")))
        judge(self, "next_steps", lambda: rules.checked_steps(said["next_steps"].split("\n")))
        judge(self, "next_date", lambda: read_next_date(said["next_date"]))
        return said

    @property
    def is_light(self) -> bool:
        """Whether it is the short note of a private lesson."""
        return bool(self["form"].value() == NoteForm.LESSON_NOTE)

    def band_rows(self) -> list[tuple[forms.BoundField, list[tuple[str, str, bool]]]]:
        """For each technique its field, and (value, words, whether chosen) of each band."""
        return [
            (
                field,
                [
                    (str(value), str(word).partition(", ")[2] or str(word), value == _value(field))
                    for value, word in field.field.choices  # type: ignore[attr-defined]
                ],
            )
            for field in self.bands()
        ]

    def attendance_said(self) -> Attendance | None:
        """Who came; None where that is not said yet."""
        said = self.cleaned_data["attendance"]
        return Attendance(said) if said else None


def _value(field: forms.BoundField) -> str:
    return str(field.value() or "")


def next_date_value(next_date: NextDate) -> str:
    """A choice as one value: "book:2027-03-26T17:30:00Z"; "" for not now."""
    if next_date.book is not None:
        return f"book:{utc(next_date.book)}"
    starts = ",".join(map(utc, next_date.propose))
    return f"propose:{starts}" if starts else ""


def read_next_date(text: str) -> NextDate:
    """The same, read back. Refused("invalid") for anything else."""
    how, _, starts = text.partition(":")
    try:
        instants = [
            datetime.strptime(start, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
            for start in starts.split(",")
            if start
        ]
    except ValueError:
        instants = []
    if how == "book" and len(instants) == 1:
        return NextDate(book=instants[0])
    if how == "propose" and instants:
        return NextDate(propose=instants)
    if text:
        raise Refused("invalid", "Choose one of the dates, or “Not now”.", field="next_date")
    return NextDate()
