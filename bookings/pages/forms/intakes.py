"""What a student writes before a lesson, read into plain values."""

from django import forms
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
        questions = [values[f"question_{rank}"].strip() for rank in (1, 2, 3)]
        return IntakeText(
            questions=[question for question in questions if question],
            pieces=values["pieces"].strip(),
            recordings=values["recordings"],
            obstacle=values["obstacle"].strip(),
        )
