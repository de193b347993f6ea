"""Assessments and the brief. Every reading of a note's text is logged before the text is shown; no answer with one is stored."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.fields import Day, Id, Line, Strict, Text, Whole, local
from bookings.api.named import pointing_at
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import Known, Named, an_instructor
from bookings.api.serializers import BookingOutput
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment, Booking
from bookings.operations.locks import lock_students
from bookings.operations.notes import (
    TECHNIQUES,
    NoteText,
    release_assessment,
    rewrite_assessment,
    write_assessment,
)
from bookings.operations.reading_notes import read_carried, read_latest
from bookings.queries.notes import differs_from_record, written_by


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
    """Where the student stands on record. `differs` where a released assessment says another level
    or unit.

    Then ask the instructor whether the record follows: `adopt-level/` moves it, and nothing else
    does.
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


class Assessments(ApiView):
    """The assessments one has written."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation("assessments", parameters=[PageAsked], refused=(403,), responses=paged(NoteOutput))
    def get(self, request: Request) -> Response:
        asked(request, PageAsked)
        author = access.access_instructor(me(request))
        return page(
            request,
            self,
            written_by(author),
            ("-id",),
            NoteOutput.of_all,
        )

    @operation(
        "write_assessment",
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=NoteForm,
        responses={201: NoteOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, NoteForm), me(request)

        def act(now: datetime) -> Result:
            author = access.access_instructor(user)
            text = NoteText(**{name: value for name, value in sent.items() if name != "student"})
            with pointing_at("student"):
                note = write_assessment(
                    actor=user, author=author, student_id=sent["student"], text=text, now=now
                )
            return note_result(note, status=201)

        return answered(request, act)


class OneAssessment(ApiView):
    """A note one has written. A draft changes in place; changing a released one begins a new version."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation("assessment", headers=("ETag",), responses=NoteOutput)
    def get(self, request: Request, pk: int) -> Response:
        note = access.access_assessment(me(request), pk)
        return Response(NoteOutput.of(note), headers={"ETag": _tag(note)})

    @operation(
        "rewrite_assessment",
        headers=("ETag", "Location"),
        refused=(409,),
        request=NoteChange,
        responses=NoteOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, NoteChange), me(request)

        def act(now: datetime) -> Result:
            note = locked_note(request, pk)
            said = {name: getattr(note, name) for name in NoteText.__dataclass_fields__}
            text = NoteText(**{**said, **sent})
            return note_result(rewrite_assessment(actor=user, note=note, text=text, now=now))

        return answered(request, act)


class Releasing(ApiView):
    """Gives the note to its student; their upcoming bookings carry it from now on."""

    if_match = {"POST": NEEDED}

    @operation(
        "release_assessment",
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=NoteOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:

        def act(now: datetime) -> Result:
            return note_result(
                release_assessment(actor=me(request), note=locked_note(request, pk), now=now)
            )

        return answered(request, act)


def locked_note(request: Request, pk: int) -> Assessment:
    """The caller's note in the state that If-Match names, the student locked as every change of a note does."""
    lock_students([access.access_assessment(me(request), pk).student_id])
    note = access.access_assessment(me(request), pk)
    names(request, _tag(note))
    return note


def note_result(note: Assessment, *, status: int = 200) -> Result:
    """A note just written, as its author sees it. It is never stored."""
    headers = {**location("assessments", note.pk), "ETag": _tag(note)}
    return Result(status, NoteOutput.of(note), headers, kept=False)


def _tag(note: Assessment) -> str:
    # A draft changes in place, so its version would not tell two states of it apart; only its author is shown this.
    says = [str(getattr(note, name)) for name in (*NoteText.__dataclass_fields__, "state")]
    return etag_of("assessment", note.pk, [*says, note.student.level, note.student.unit])


class ReadingReasonForm(Strict):
    """Why an admin needs to read it; the reason is kept. In the body: addresses are logged, and reasons are not for logs."""

    reason = Line(max_length=200)


class LatestAssessment(ApiView):
    """A student's latest released assessment, for the student, guardians and instructors; an admin reads it by POST, with a reason."""

    bodies = {"POST"}

    @operation("latest_assessment", refused=(422,), responses=ReleasedNote)
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        return _latest(request, pk)

    @operation(
        "read_latest_assessment", refused=(409,), request=ReadingReasonForm, responses=ReleasedNote
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _latest(request, pk, body(request, ReadingReasonForm)["reason"])


def _latest(request: Request, pk: int, reason: str = "") -> HttpResponseBase:
    def act(now: datetime) -> Result:
        note = read_latest(reader=me(request), student_id=pk, reason=reason, now=now)
        return Result(200, ReleasedNote.of(note), kept=False)

    return answered(request, act)  # a reading is logged: the text is shown once that is committed


class BriefOutput(BookingOutput):
    """What an instructor reads before a meeting: the booking with its intake, where the student stands, the latest assessment."""

    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    student_time_zone = serializers.CharField(source="student.zone")
    student_local_start = serializers.DateTimeField()
    assessment = ReleasedNote(allow_null=True)

    def get_student_local_start(self, booking: Booking) -> str:
        return local(booking.starts_at, booking.student.zone)

    def get_assessment(self, booking: Booking) -> Assessment | None:
        note: Assessment | None = self.context["note"]
        return note


class Brief(ApiView):
    """For the meeting's instructor."""

    @operation("brief", responses=BriefOutput)
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            booking = access.access_brief(user, pk, now=now)
            note = read_carried(reader=user, booking=booking, now=now)
            return Result(200, BriefOutput.of(booking, reader=user, note=note), kept=False)

        return answered(
            request, act
        )  # a reading is logged: the text is shown once that is committed
