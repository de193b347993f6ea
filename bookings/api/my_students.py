"""Students as their instructors and admins see them, and the instructor each belongs to."""

from datetime import datetime
from functools import partial
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Student, User
from bookings import access, clock, door
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.named import named_regular_instructor, pointing_at
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.paging import page, page_of_ids
from bookings.api.student_serializers import (
    StudentChange,
    StudentForm,
    StudentOutput,
    StudentsAsked,
)
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.people_rows import Person
from bookings.domain.scopes import PEOPLE, Scope
from bookings.operations.closing import return_to_school
from bookings.operations.my_students import read_entries
from bookings.operations.student_records import (
    RecordValues,
    change_record,
    record_of,
    take_in,
)
from bookings.queries.my_students import (
    Wanted,
    due_among,
    students_by_id,
    students_wanted,
)


class Students(ApiView):
    """The students of an instructor, or of the school for an admin.

    A reading of another instructor's obstacle is logged.
    """

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "students",
        scope=Scope.READ_PEOPLE,
        refused=(403, 404),
        parameters=[StudentsAsked],
        responses=paged(StudentOutput),
    )
    def get(self, request: Request) -> Response:
        sent, user, now = asked(request, StudentsAsked), me(request), clock.now()
        wanted = _wanted(user, sent)
        rows = StudentsAsked.narrowed(students_wanted(user, wanted, now=now), sent, user)
        shown = partial(_shown, user, wanted, now)
        if "due" not in sent:
            return page(request, StudentsAsked, rows, shown)
        ids = [one.student_id for one in due_among(rows, user, wanted.instructor, now=now)]
        if sent["due"]:
            return page_of_ids(request, ids, lambda found: shown(students_by_id(found)))
        return page(request, StudentsAsked, rows.exclude(pk__in=ids), shown)

    @operation(
        "take_in_student",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 404),
        request=StudentForm,
        responses={201: StudentOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        """One more student, with the invitations that are asked for: all of it, or nothing."""
        sent, user = body(request, StudentForm), me(request)
        access.require_admin(user)

        def act(now: datetime) -> Result:
            values = dict(sent)
            email = values.pop("email", "")
            invited = [Person(**one) for one in values.pop("guardians", ())]
            student = take_in(
                actor=user, values=_values(values), email=email, new_guardians=invited, now=now
            )
            return _result(user, student, now, status=201)

        return answered(request, act)


class OneStudent(ApiView):
    """One student of those whom the reader may list. Admins change the record."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation(
        "student",
        scope=Scope.READ_PEOPLE,
        headers=("ETag",),
        refused=(403,),
        responses=StudentOutput,
    )
    def get(self, request: Request, pk: int) -> Response:
        user, now = me(request), clock.now()
        student = access.access_listed_student(user, pk, now=now)
        return Response(_one(user, student, now), headers={"ETag": _tag(student)})

    @operation(
        "change_student",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403,),
        request=StudentChange,
        responses=StudentOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, StudentChange), me(request)

        def act(now: datetime) -> Result:
            access.require_admin(user)
            student = access.access_listed_student(user, pk, now=now)
            changed = change_record(
                actor=user,
                student=student,
                values=_values(sent),
                seen=record_of(student) if names(request, _tag(student)) else None,
                now=now,
            )
            return _result(user, changed, now)

        return answered(request, act)


class ReturningToSchool(ApiView):
    """Lets a student who has left learn here again. What ended stays so."""

    @operation(
        "return_to_school",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=None,
        responses=StudentOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            access.require_admin(user)
            student = access.access_student(user, pk, now=now)
            return _result(user, return_to_school(actor=user, student=student, now=now), now)

        return answered(request, act)


def _values(sent: dict[str, Any]) -> RecordValues:
    """What was sent of a record, as the operations take it."""
    if sent.get("regular_instructor") is None:
        return sent  # type: ignore[return-value]  # the form has these members
    found = named_regular_instructor(sent["regular_instructor"])
    return {**sent, "regular_instructor": found}  # type: ignore[typeddict-item]


def _result(user: User, student: Student, now: datetime, *, status: int = 200) -> Result:
    headers = {**location("students", student.pk), "ETag": _tag(student)}
    return Result(status, _one(user, student, now), headers)


def _wanted(user: User, sent: dict[str, Any]) -> Wanted:
    with pointing_at("instructor"):
        whose = access.access_list_of(user, sent.get("instructor"))
    return Wanted(
        instructor=whose,
        words=sent.get("q", ""),
        minor=sent.get("minor"),
        active=sent.get("active", True),
        without_next_lesson=sent.get("without_next_meeting"),
    )


def _shown(user: User, wanted: Wanted, now: datetime, found: list[Student]) -> list[dict[str, Any]]:
    """These students as this reader sees them; readings of notes are logged first."""
    read = partial(read_entries, reader=user, students=found, instructor=wanted.instructor, now=now)
    return StudentOutput.of_all(door.write(read, now=now), reader=user)


def _one(user: User, student: Student, now: datetime) -> dict[str, Any]:
    (shown,) = _shown(user, _wanted(user, {}), now, [student])
    return shown


def _tag(student: Student) -> str:
    return etag_of("student", student.pk, record_of(student))
