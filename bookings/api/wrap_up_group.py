"""Wrapping up a group meeting: who came, a note for all of them, and a goal for one."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from bookings import access, clock
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Line, Strict, Text
from bookings.api.operation import operation
from bookings.api.output import Output, Utc
from bookings.api.references import Known, Named
from bookings.api.register import ATTENDANCES, MarkForm
from bookings.api.time_fields import Instant
from bookings.api.views import ApiView, body, me
from bookings.domain.notes import MOST_HEARD, MOST_STEPS
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import Attendance
from bookings.models import Assessment, Booking, Meeting
from bookings.operations.wrap_up_group import GroupText, release_group, wrap_up_group
from bookings.queries.group_notes import GroupNotes, group_notes_of, members_of

LONGEST_GOAL = 300
MOST_PLACES = 1000


class GoalForm(Strict):
    """A goal for one student."""

    booking = Id()
    goal = Text(max_length=LONGEST_GOAL, allow_blank=True)


class GroupWrapUpForm(Strict):
    """Who came, and what everybody who came is told alike. Without `heard`, `next_steps` and
    `goals` the notes stay as they are; with any of them they are written anew.

    `read_at` is the `written_at` that your reader has seen; leave it out where it was null. Notes
    that have changed since are never overwritten.
    """

    marks: Any = serializers.ListSerializer(child=MarkForm(), max_length=MOST_PLACES)
    heard = serializers.ListField(child=Line(max_length=200), max_length=MOST_HEARD, required=False)
    next_steps = serializers.ListField(
        child=Line(max_length=200), max_length=MOST_STEPS, required=False
    )
    goals: Any = serializers.ListSerializer(
        child=GoalForm(), max_length=MOST_PLACES, required=False
    )
    read_at = Instant(required=False)

    def validate_marks(self, marks: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return _each_once(marks)

    def validate_goals(self, goals: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return _each_once(goals)


def _each_once(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    said = {"booking": ["This booking comes twice: name it once."]}
    seen: set[int] = set()
    errors = []
    for row in rows:
        errors.append(said if row["booking"] in seen else {})
        seen.add(row["booking"])
    if any(errors):
        raise ValidationError(errors)
    return rows


class OverForm(Strict):
    """Another instructor's latest note about a student, which your reader has been shown."""

    booking = Id()
    assessment = Id()


class GroupReleaseForm(Strict):
    """`bookings` are those whose drafts your reader was told would be released: all of them are,
    each to its own student, or none. `read_at` is as in the wrap-up.
    """

    bookings = serializers.ListField(child=Id(), min_length=1, max_length=MOST_PLACES)
    over_others: Any = serializers.ListSerializer(
        child=OverForm(), max_length=MOST_PLACES, required=False
    )
    read_at = Instant(required=False)

    def validate_over_others(self, over: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return _each_once(over)


class GroupPlaceOutput(Output):
    """One place that is held. `goal` is that of the draft with the common text; `note` is the
    student's note of their own, or the one that is released, and null where there is none.
    """

    booking = serializers.IntegerField(source="pk")
    student = Named()
    attendance = serializers.ChoiceField(choices=ATTENDANCES, allow_null=True)
    has_draft = serializers.BooleanField()
    goal = serializers.CharField(allow_blank=True)
    note = serializers.IntegerField(allow_null=True)

    @property
    def _notes(self) -> GroupNotes:
        notes: GroupNotes = self.context["notes"]
        return notes

    def get_student(self, row: Booking) -> Known:
        return Known(row.student_id, access.name_for(self.reader, row.student, clock.now()))

    def get_attendance(self, row: Booking) -> str | None:
        return row.mark.attendance if hasattr(row, "mark") else None

    def get_has_draft(self, row: Booking) -> bool:
        return self._notes.draft_of(row) is not None

    def get_goal(self, row: Booking) -> str:
        draft = self._notes.draft_of(row)
        return draft.goal if draft else ""

    def get_note(self, row: Booking) -> int | None:
        note = self._notes.own_note_of(row)
        return note.pk if note else None


class GroupWrapUpOutput(Output):
    """The register and the drafts as they stand. `heard` and `next_steps` are what the drafts say
    alike.
    """

    heard = serializers.ListField(child=serializers.CharField())
    next_steps = serializers.ListField(child=serializers.CharField())
    written_at = Utc(allow_null=True)
    members = GroupPlaceOutput(many=True)

    def get_members(self, notes: GroupNotes) -> list[Booking]:
        return members_of(self.context["meeting"])


class GroupReleasedOutput(Output):
    """The notes that were released, by id; each student has had theirs by email."""

    released = serializers.ListField(child=serializers.IntegerField())

    def get_released(self, notes: list[Assessment]) -> list[int]:
        return [note.pk for note in notes]


class GroupWrapUp(ApiView):
    """For the instructor of a group meeting, once it has begun."""

    bodies = {"POST"}

    @operation("group_wrap_up", scope=PEOPLE, responses=GroupWrapUpOutput)
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            meeting = access.access_group_to_wrap_up(user, pk)
            return Result(200, _shown(request, meeting, group_notes_of(meeting)), kept=False)

        return answered(request, act)

    @operation(
        "wrap_up_group",
        scope=PEOPLE,
        refused=(409, 412),
        request=GroupWrapUpForm,
        responses=GroupWrapUpOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        """Marks the register and keeps a draft for each who came. A student with a note of their
        own keeps it.
        """
        sent, user = body(request, GroupWrapUpForm), me(request)

        def act(now: datetime) -> Result:
            meeting = access.access_group_to_wrap_up(user, pk)
            notes = wrap_up_group(
                actor=user,
                meeting=meeting,
                came={row["booking"]: Attendance(row["attendance"]) for row in sent["marks"]},
                text=_text(sent),
                read_at=sent.get("read_at"),
                now=now,
            )
            return Result(200, _shown(request, meeting, notes), kept=False)

        return answered(request, act)


class ReleasingGroup(ApiView):
    """Releases the drafts of all who came, to each their own, or none of them."""

    bodies = {"POST"}

    @operation(
        "release_group",
        scope=PEOPLE,
        refused=(409, 412),
        request=GroupReleaseForm,
        responses=GroupReleasedOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, GroupReleaseForm), me(request)

        def act(now: datetime) -> Result:
            released = release_group(
                actor=user,
                meeting=access.access_group_to_wrap_up(user, pk),
                shown=sent["bookings"],
                over={row["booking"]: row["assessment"] for row in sent.get("over_others", ())},
                read_at=sent.get("read_at"),
                now=now,
            )
            return Result(200, GroupReleasedOutput.of(released))

        return answered(request, act)


def _text(sent: dict[str, Any]) -> GroupText | None:
    """What is to be written, None where nothing was sent of it."""
    if not {"heard", "next_steps", "goals"} & sent.keys():
        return None
    return GroupText(
        heard=sent.get("heard", ()),
        next_steps=sent.get("next_steps", ()),
        goals={row["booking"]: row["goal"] for row in sent.get("goals", ())},
    )


def _shown(request: Request, meeting: Meeting, notes: GroupNotes) -> dict[str, Any]:
    return GroupWrapUpOutput.of(notes, reader=me(request), notes=notes, meeting=meeting)
