"""What a student writes before a lesson, read into plain values."""

from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from bookings.operations.intakes import IntakeText
from bookings.pages.forms.fields import PlainText


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
    practised_minutes = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=7 * 24 * 60,
        label="Minutes practised in the last week",
    )
    hurts = PlainText(required=False, max_length=500, label="Does anything hurt?")

    def __init__(
        self,
        *values: Any,
        for_family: bool,
        one_on_one: bool = True,
        is_shown: bool = False,
        **options: Any,
    ) -> None:
        """Only the family is asked what hurts, and only for a one-on-one what to begin with.

        With `is_shown` the pieces stand beside the order of players, for everybody in the meeting.
        """
        super().__init__(*values, **options)
        if is_shown:
            self.fields[
                "pieces"
            ].help_text = "Everybody in the masterclass sees this beside the order of players."
        left_out = [] if one_on_one else ["question_1", "question_2", "question_3", "obstacle"]
        for name in left_out if for_family else [*left_out, "hurts"]:
            del self.fields[name]
        if for_family:
            self.fields["hurts"].help_text = (
                "Only your family and the instructor of this lesson read it. "
                f"It is erased {_hurts_days()} days after the lesson."
            )

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
        questions = [values.get(f"question_{rank}", "").strip() for rank in (1, 2, 3)]
        return IntakeText(
            questions=[question for question in questions if question],
            pieces=values["pieces"].strip(),
            recordings=values["recordings"],
            obstacle=values.get("obstacle", "").strip(),
            practised_minutes=values["practised_minutes"],
            hurts=values["hurts"].strip() if "hurts" in values else None,
        )


def _hurts_days() -> int:
    """How long what hurts is kept after a lesson."""
    return int(settings.RETENTION_DAYS["INTAKE_HEALTH_DAYS"])
