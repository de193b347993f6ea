"""Notes, which are assessments and lesson notes, as they are sent and shown."""

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from bookings.api.fields import AskedId, Id, Line, Strict, Text, TrueOrFalse, TwoWeeks, Whole
from bookings.api.output import Output, Utc
from bookings.api.paging import PageAsked
from bookings.api.references import Known, Named, an_instructor
from bookings.api.time_fields import Day, InstantOrDay
from bookings.domain.notes import LONGEST_HEARD, LONGEST_STEP, MOST_HEARD, MOST_STEPS
from bookings.domain.practice import (
    LONGEST_WHAT,
    MOST_ITEMS,
    MOST_MINUTES,
    PracticeItem,
    items_of,
)
from bookings.domain.techniques import BAND_WORDS
from bookings.domain.vocabulary import GoalOutcome, NoteState
from bookings.domain.vocabulary import NoteForm as Form
from bookings.models import Assessment, AssessmentReading
from bookings.queries.notes import SCHOOLS_READERS, differs_from_record


class Bands(serializers.DictField):
    """For some techniques a band from 1 to 4: those of the meeting's offering, by name."""

    child = Whole(min_value=1, max_value=4)


class PracticeItemForm(Strict):
    """One thing to practise each day, with its minutes; `is_review` for an older piece."""

    what = Line(max_length=LONGEST_WHAT)
    minutes = Whole(min_value=1, max_value=MOST_MINUTES)
    is_review = TrueOrFalse(required=False, default=False)


class NoteChange(Strict):
    """What a note says; what is left out stays. Bands run from 1 to 4.

    Never a safeguarding concern: that goes to the school's named officer, not into a note.
    """

    form = serializers.ChoiceField(choices=[form.value for form in Form], required=False)
    level = Whole(min_value=1, max_value=10, required=False)
    unit = Whole(min_value=1, max_value=99, required=False)
    heard_on = Day(required=False)
    heard = serializers.ListField(
        child=Line(max_length=LONGEST_HEARD), max_length=MOST_HEARD, required=False
    )
    bands = Bands(required=False)
    strengths = Text(max_length=2000, required=False, allow_blank=True)
    obstacle = Text(max_length=2000, required=False, allow_blank=True)
    next_steps = serializers.ListField(
        child=Line(max_length=LONGEST_STEP), max_length=MOST_STEPS, required=False
    )
    last_goal = serializers.ChoiceField(
        choices=[outcome.value for outcome in GoalOutcome], required=False, allow_null=True
    )
    goal = Text(max_length=2000, required=False, allow_blank=True)
    goal_on = Day(required=False, allow_null=True)
    practice: Any = serializers.ListSerializer(
        child=PracticeItemForm(), max_length=MOST_ITEMS, required=False
    )
    follow_up_weeks = TwoWeeks(2, 6, required=False, allow_null=True, help_text="2, 4 or 6.")
    caution = Text(max_length=1000, required=False, allow_blank=True)
    private_remarks = Text(max_length=4000, required=False, allow_blank=True)


class NoteForm(NoteChange):
    """A new note about one student: a draft until it is released.

    `meeting` is the one it was heard in. Without `level` and `unit` those on record are taken.
    """

    student = Id()
    meeting = Id(required=False)


class ReleaseForm(Strict):
    """`over` is another instructor's latest note, which your reader has been shown.

    With `adopt` the student's record follows the note's level and unit in the same act.
    """

    over = Id(required=False)
    adopt = TrueOrFalse(required=False, default=False)


def note_text(sent: Mapping[str, Any]) -> dict[str, Any]:
    """What was sent, as the fields of a NoteText."""
    said = {name: value for name, value in sent.items() if name not in ("student", "meeting")}
    if "practice" in said:
        said["practice"] = [PracticeItem(**item) for item in said["practice"]]
    if said.get("last_goal", "") is None:
        said["last_goal"] = ""
    return said


class BandOutput(Output):
    """A band from 1 to 4, and the word for it."""

    band = serializers.IntegerField()
    word = serializers.ChoiceField(choices=list(BAND_WORDS.values()))


class PracticeItemOutput(Output):
    """One thing to practise each day."""

    what = serializers.CharField()
    minutes = serializers.IntegerField()
    is_review = serializers.BooleanField()


class ReadingOutput(Output):
    """Who of the school read the note, and when."""

    relation = serializers.ChoiceField(choices=list(SCHOOLS_READERS))
    name = serializers.CharField(allow_null=True)
    read_at = Utc()

    def get_name(self, reading: AssessmentReading) -> str | None:
        return None if reading.reader is None else reading.reader.name


class AssessmentsAsked(PageAsked):
    """Assessments of one student, about one meeting, in one standing."""

    order = ("-id",)
    in_order = "The one begun last comes first."
    narrows = {"student": "student", "meeting": "meeting"}
    student = AskedId(required=False)
    meeting = AskedId(required=False)
    standing = serializers.ChoiceField(choices=[state.name for state in NoteState], required=False)


class HistoryAsked(PageAsked):
    """Assessments released in [from, to), of one instructor's."""

    wire = {"since": "from", "until": "to"}
    order = ("-released_at", "-id")
    in_order = "The latest released comes first."
    narrows = {
        "instructor": "author",
        "since": "released_at__gte",
        "until": "released_at__lt",
    }
    instructor = AskedId(required=False)
    since = InstantOrDay(required=False)
    until = InstantOrDay(required=False)


class ReleasedNote(Output):
    """A note as its student reads it.

    `readings` tells the family who of the school has read it; null for anybody else.
    """

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    standing = serializers.ChoiceField(choices=[state.name for state in NoteState])
    student = Named()
    author = an_instructor()
    form = serializers.ChoiceField(choices=[form.value for form in Form])
    meeting = serializers.IntegerField(source="meeting_id", allow_null=True)
    heard_on = serializers.DateField()
    level = serializers.IntegerField()
    unit = serializers.IntegerField()
    heard = serializers.ListField(child=serializers.CharField())
    bands = serializers.DictField(child=BandOutput())
    strengths = serializers.CharField()
    obstacle = serializers.CharField()
    next_steps = serializers.ListField(child=serializers.CharField())
    last_goal = serializers.ChoiceField(
        choices=[outcome.value for outcome in GoalOutcome], allow_null=True
    )
    goal = serializers.CharField()
    goal_on = serializers.DateField(allow_null=True)
    practice = PracticeItemOutput(many=True)
    follow_up_weeks = serializers.IntegerField(allow_null=True)
    follow_up_on = serializers.DateField(allow_null=True)
    caution = serializers.CharField()
    released_at = Utc(allow_null=True)
    readings = ReadingOutput(many=True, allow_null=True)

    def get_standing(self, note: Assessment) -> str:
        return NoteState(note.state).name

    def get_student(self, note: Assessment) -> Known:
        return Known(note.student_id, note.student.first_name)

    def get_bands(self, note: Assessment) -> dict[str, dict[str, Any]]:
        return {name: {"band": band, "word": BAND_WORDS[band]} for name, band in note.bands.items()}

    def get_last_goal(self, note: Assessment) -> str | None:
        return note.last_goal or None

    def get_practice(self, note: Assessment) -> list[PracticeItem]:
        return items_of(note.practice)

    def get_readings(self, note: Assessment) -> list[AssessmentReading] | None:
        known: Mapping[int, list[AssessmentReading]] | None = self.context.get("readings")
        return None if known is None else known.get(note.pk, [])


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
