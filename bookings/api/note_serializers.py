"""Assessments as they are sent and shown."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from bookings.api.fields import Id, Strict, Text, Whole
from bookings.api.output import Output, Utc
from bookings.api.references import Known, Named, an_instructor
from bookings.api.time_fields import Day
from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment
from bookings.operations.notes import TECHNIQUES
from bookings.queries.notes import differs_from_record


@extend_schema_field(
    {
        "type": "object",
        "properties": {
            name: {"type": "integer", "minimum": 1, "maximum": 4} for name in TECHNIQUES
        },
        "additionalProperties": False,
    }
)
class Bands(serializers.DictField):
    """For some techniques a band from 1 to 4."""

    child = Whole(min_value=1, max_value=4)

    def to_internal_value(self, data: Any) -> Any:
        unknown = sorted(set(data) - set(TECHNIQUES)) if isinstance(data, dict) else []
        if unknown:
            said = f"Bands run from 1 to 4 for: {', '.join(TECHNIQUES)}."
            raise serializers.ValidationError({name: [said] for name in unknown})
        return super().to_internal_value(data)


class NoteChange(Strict):
    """What an assessment says; what is left out stays. Bands run from 1 to 4.

    Never a safeguarding concern: that goes to the school's named officer, not into a note.
    """

    level = Whole(min_value=1, max_value=10, required=False)
    unit = Whole(min_value=1, max_value=99, required=False)
    heard_on = Day(required=False)
    bands = Bands(required=False)
    strengths = Text(max_length=2000, required=False, allow_blank=True)
    obstacle = Text(max_length=2000, required=False, allow_blank=True)
    next_step = Text(max_length=2000, required=False, allow_blank=True)
    goal = Text(max_length=2000, required=False, allow_blank=True)
    practice_plan = Text(max_length=4000, required=False, allow_blank=True)
    caution = Text(max_length=1000, required=False, allow_blank=True)
    private_remarks = Text(max_length=2000, required=False, allow_blank=True)


class NoteForm(NoteChange):
    """A new assessment of one student: a draft until it is released."""

    student = Id()
    level = Whole(min_value=1, max_value=10)
    unit = Whole(min_value=1, max_value=99)


class ReleasedNote(Output):
    """An assessment as its student reads it."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    standing = serializers.ChoiceField(choices=[state.name for state in NoteState])
    student = Named()
    author = an_instructor()
    heard_on = serializers.DateField()
    level = serializers.IntegerField()
    unit = serializers.IntegerField()
    bands = Bands()
    strengths = serializers.CharField()
    obstacle = serializers.CharField()
    next_step = serializers.CharField()
    goal = serializers.CharField()
    practice_plan = serializers.CharField()
    caution = serializers.CharField()
    released_at = Utc(allow_null=True)

    def get_standing(self, note: Assessment) -> str:
        return NoteState(note.state).name

    def get_student(self, note: Assessment) -> Known:
        return Known(note.student_id, note.student.first_name)


class NoteRecord(Output):
    """Where the student stands on record.

    `differs` is true if a released assessment says another level or unit. Then ask the instructor
    whether the record follows: only `adopt-level/` changes it.
    """

    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    differs = serializers.BooleanField()

    def get_differs(self, note: Assessment) -> bool:
        return differs_from_record(note)


class NoteOutput(ReleasedNote):
    """The same for its author, with the private remarks and the student's record."""

    private_remarks = serializers.CharField()
    record = NoteRecord(source="*")
