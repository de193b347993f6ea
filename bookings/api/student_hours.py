"""The hours that a student can come. For the family and admins; instructors see none of it."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import clock
from bookings.access import access_student
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import Strict
from bookings.api.hours import MOST_WINDOWS
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, ZoneName
from bookings.api.references import a_student
from bookings.api.time_fields import WEEKDAYS, Clock, WindowTime
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.domain.student_hours import UsualHours, WishedWindow
from bookings.domain.vocabulary import Wish
from bookings.models import AskedHours, StudentWeek
from bookings.operations.student_hours import say_hours
from bookings.queries.planning.asked_hours import asked_of
from bookings.queries.student_hours import presumed_for, week_of

_WISHES = [
    (Wish.GLADLY.value, "Burden 0."),
    (Wish.POSSIBLE.value, "Burden 1."),
    (Wish.LAST.value, "Burden 8."),
    (Wish.NEVER.value, "In no list and no plan. The family may still book it."),
]


class WishedWindowForm(Strict):
    """A window of every week on the student's wall clock, and the family's word for it.

    An hour has one word. Past midnight takes two windows.
    """

    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    opens = WindowTime()
    closes = WindowTime()
    wish = serializers.ChoiceField(choices=_WISHES)


class SchoolForm(Strict):
    """School from Monday to Friday, within a term and outside its breaks: `never`."""

    opens = WindowTime()
    closes = WindowTime()


class StudentHoursForm(Strict):
    """All that is said of the student's week; it replaces what was said before.

    Of an hour in none of `wishes` the usual curve says what it costs. An adult's words replace that
    curve; for a minor the greater of both counts.
    """

    wishes: Any = serializers.ListSerializer(child=WishedWindowForm(), max_length=MOST_WINDOWS)
    school = SchoolForm(allow_null=True)


class UsualHoursOutput(Output):
    """What is presumed of a minor. Each hour of it counts 8.

    `school` is as in the week, null before school age. From `bedtime` to midnight is the evening.
    """

    school = SchoolForm(allow_null=True)
    bedtime = Clock()

    def get_school(self, usual: UsualHours) -> dict[str, int] | None:
        return _opening(usual.school)


class AskedHoursOutput(Output):
    """A group that the school plans, and for which the family is asked to say these hours.

    What was said by `answer_by` counts for it; what is said later does not. `answered_at` is null
    until a guardian, an admin or a grown student has said it in time.
    """

    title = serializers.CharField()
    answer_by = Utc(source="plan.answer_by")
    answered_at = Utc(allow_null=True)

    def get_title(self, asked: AskedHours) -> str:
        return str(asked.plan.asked["title"])


class StudentHoursOutput(Output):
    """What the family says of the student's week.

    `presumed` counts beside it until a guardian or an admin sends the week; null for an adult.
    `asked_for` are plans that nobody has decided yet.
    """

    student = a_student()
    time_zone = ZoneName()
    wishes = WishedWindowForm(many=True)
    school = SchoolForm(allow_null=True)
    presumed = UsualHoursOutput(allow_null=True)
    changed_at = Utc(allow_null=True)
    asked_for = AskedHoursOutput(many=True)

    def get_asked_for(self, week: StudentWeek) -> list[AskedHours]:
        return asked_of(week.student)

    def get_time_zone(self, week: StudentWeek) -> str:
        return week.student.zone

    def get_wishes(self, week: StudentWeek) -> list[dict[str, Any]]:
        rows = week.windows.all() if week.pk else []
        return [
            {
                "weekday": WEEKDAYS[row.weekday],
                "opens": row.opens,
                "closes": row.closes,
                "wish": row.wish,
            }
            for row in sorted(rows, key=lambda row: (row.weekday, row.opens))
        ]

    def get_school(self, week: StudentWeek) -> dict[str, int] | None:
        return _opening(week.school)

    def get_presumed(self, week: StudentWeek) -> UsualHours | None:
        return presumed_for(week, now=self.context["now"])


def _opening(opening: tuple[int, int] | None) -> dict[str, int] | None:
    return {"opens": opening[0], "closes": opening[1]} if opening else None


class HoursOfStudent(ApiView):
    """When a student can come, in the family's words, through every clock change."""

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation(
        "student_hours", scope=Scope.READ_PEOPLE, headers=("ETag",), responses=StudentHoursOutput
    )
    def get(self, request: Request, pk: int) -> Response:
        now = clock.now()
        week = week_of(access_student(me(request), pk, now=now))
        return Response(StudentHoursOutput.of(week, now=now), headers=_tag(week))

    @operation(
        "say_student_hours",
        scope=PEOPLE,
        headers=("ETag",),
        request=StudentHoursForm,
        responses=StudentHoursOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, StudentHoursForm), me(request)
        windows = [
            WishedWindow(
                WEEKDAYS.index(row["weekday"]), row["opens"], row["closes"], Wish(row["wish"])
            )
            for row in sent["wishes"]
        ]
        school = (sent["school"]["opens"], sent["school"]["closes"]) if sent["school"] else None

        def act(now: datetime) -> Result:
            student = access_student(user, pk, now=now)
            version = version_asked(request, "student-hours", pk, week_of(student).version)
            week = say_hours(
                actor=user,
                student=student,
                windows=windows,
                school=school,
                version=version,
                now=now,
            )
            return Result(200, StudentHoursOutput.of(week, now=now), _tag(week))

        return answered(request, act)


def _tag(week: StudentWeek) -> dict[str, str]:
    return {"ETag": etag("student-hours", week.student_id, week.version)}
