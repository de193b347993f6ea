"""Students as their instructors and admins see them, and the instructor each belongs to."""

from datetime import datetime
from functools import partial
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Student, User
from bookings import access, clock, door
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, AskedWhole, Id, Line, Strict
from bookings.api.named import named_instructor, pointing_at
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page, page_of_ids
from bookings.api.references import Known, Named, an_instructor
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.due import Why
from bookings.models import Assessment
from bookings.operations.my_students import read_entries
from bookings.operations.regular_instructors import name_regular_instructor
from bookings.queries.my_students import (
    Entry,
    Wanted,
    due_among,
    students_by_id,
    students_wanted,
)


class StudentsAsked(PageAsked):
    """Filters: part of a name, a level, those without a next lesson, those due a review.

    `instructor` is whose students are listed: the reader's own, and for an admin everybody's unless
    it names one. `due=1` puts the most pressing first; otherwise they come by id.
    """

    q = Line(max_length=80, required=False)
    level = AskedWhole(min_value=1, max_value=10, required=False)
    instructor = AskedId(required=False)
    without_next_meeting = serializers.ChoiceField(choices=["1"], required=False)
    due = serializers.ChoiceField(choices=["1"], required=False)


class RegularInstructorForm(Strict):
    """The instructor the student belongs to, one who teaches now; null for nobody. Left out, it
    stays.
    """

    regular_instructor = Id(allow_null=True, required=False)


class LastNote(Output):
    """The student's latest released assessment: when and by whom, not what it says."""

    heard_on = serializers.DateField()
    author = an_instructor()


class StudentOutput(Output):
    """A student, and where they stand.

    Lessons and meetings are those with the instructor whose list it is; in a list of everybody's
    students, those with anybody. `obstacle` and `follow_up_on` are those of the latest released
    assessment that the reader may read; admins read the words of their own alone, and
    `obstacle_open` tells whether there is one. `due` says why a review is due, the most pressing
    reason first, and `reasons` says the same in sentences.
    """

    id = serializers.IntegerField(source="student.pk")
    name = serializers.CharField()
    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    time_zone = serializers.CharField(source="student.zone")
    regular_instructor = Named(allow_null=True)
    last_meeting_at = Utc(allow_null=True, source="last_at")
    next_meeting_at = Utc(allow_null=True, source="next_at")
    next_booking = serializers.IntegerField(allow_null=True, source="next_booking_id")
    last_note = LastNote(allow_null=True)
    obstacle = serializers.CharField(allow_blank=True)
    obstacle_open = serializers.BooleanField(source="has_obstacle")
    follow_up_on = serializers.DateField(allow_null=True)
    due = serializers.ListField(child=serializers.ChoiceField(choices=[why.value for why in Why]))
    reasons = serializers.ListField(child=serializers.CharField())

    def get_regular_instructor(self, row: Entry) -> Known | None:
        found = row.student.regular_instructor
        return Known(found.pk, found.user.name) if found else None

    def get_last_note(self, row: Entry) -> Assessment | None:
        return row.latest

    def get_due(self, row: Entry) -> list[str]:
        return [why.value for why in row.due.why] if row.due else []

    def get_reasons(self, row: Entry) -> list[str]:
        return list(row.due.sentences) if row.due else []


class Students(ApiView):
    """The students of an instructor, or of the school for an admin.

    A reading of another instructor's obstacle is logged.
    """

    queries = {"GET"}

    @operation(
        "students", refused=(403, 404), parameters=[StudentsAsked], responses=paged(StudentOutput)
    )
    def get(self, request: Request) -> Response:
        sent, user, now = asked(request, StudentsAsked), me(request), clock.now()
        wanted = _wanted(user, sent)
        rows = students_wanted(user, wanted, now=now)
        shown = partial(_shown, user, wanted, now)
        if "due" not in sent:
            return page(request, self, rows, ("id",), shown)
        ids = [one.student_id for one in due_among(rows, user, wanted.instructor, now=now)]
        return page_of_ids(request, self, ids, lambda found: shown(students_by_id(found)))


class OneStudent(ApiView):
    """One student of those whom the reader may list. An admin names their regular instructor."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation("student", headers=("ETag",), refused=(403,), responses=StudentOutput)
    def get(self, request: Request, pk: int) -> Response:
        user, now = me(request), clock.now()
        student = access.access_listed_student(user, pk, now=now)
        return Response(_one(user, student, now), headers={"ETag": _tag(student)})

    @operation(
        "name_regular_instructor",
        headers=("ETag", "Location"),
        refused=(403,),
        request=RegularInstructorForm,
        responses=StudentOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, RegularInstructorForm), me(request)

        def act(now: datetime) -> Result:
            access.require_admin(user)
            student = access.access_listed_student(user, pk, now=now)
            is_seen = names(request, _tag(student))
            chosen = sent.get("regular_instructor", student.regular_instructor_id)
            with pointing_at("regular_instructor"):
                instructor = None if chosen is None else named_instructor(chosen)
            changed = name_regular_instructor(
                actor=user,
                student=student,
                instructor=instructor,
                seen=(student.regular_instructor_id,) if is_seen else None,
                now=now,
            )
            headers = {**location("students", pk), "ETag": _tag(changed)}
            return Result(200, _one(user, changed, now), headers)

        return answered(request, act)


def _wanted(user: User, sent: dict[str, Any]) -> Wanted:
    with pointing_at("instructor"):
        whose = access.access_list_of(user, sent.get("instructor"))
    return Wanted(
        instructor=whose,
        words=sent.get("q", ""),
        level=sent.get("level"),
        without_next_lesson="without_next_meeting" in sent,
    )


def _shown(user: User, wanted: Wanted, now: datetime, found: list[Student]) -> list[dict[str, Any]]:
    """These students as this reader sees them; readings of notes are logged first."""
    read = partial(read_entries, reader=user, students=found, instructor=wanted.instructor, now=now)
    return StudentOutput.of_all(door.write(read, now=now), reader=user)


def _one(user: User, student: Student, now: datetime) -> dict[str, Any]:
    (shown,) = _shown(user, _wanted(user, {}), now, [student])
    return shown


def _tag(student: Student) -> str:
    return etag_of("student", student.pk, student.regular_instructor_id)
