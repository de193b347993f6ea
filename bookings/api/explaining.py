"""Why a start is or is not offered."""

from datetime import UTC

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Instructor, Student, User
from bookings import clock
from bookings.api.fields import AskedId, Strict
from bookings.api.named import named_instructor, named_student, open_offering
from bookings.api.operation import operation
from bookings.api.output import Output, local, utc
from bookings.api.problem_schemas import CODE_CHOICES
from bookings.api.references import OfferingNamed
from bookings.api.time_fields import Instant, Zone
from bookings.api.views import ApiView, asked, me
from bookings.domain.scopes import Scope
from bookings.domain.slots import Reason, dated
from bookings.models import Meeting, Offering
from bookings.queries.explaining import explained
from bookings.queries.teaching import zone_of_hours


class ExplainAsked(Strict):
    """One start of one instructor, for one student.

    Admins, and instructors who ask about themselves, may leave the student out.
    """

    offering = AskedId()
    instructor = AskedId()
    starts_at = Instant()
    student = AskedId(required=False)
    time_zone = Zone(required=False)


class RefusalOutput(Output):
    """One rule: its name, the code with which booking is refused, a sentence and its numbers.

    Numbers are minutes, days or instants. For whatever the instructor does then, a student or
    guardian reads "not free", without numbers, `meeting` and `offering`.
    """

    rule = serializers.CharField()
    code = serializers.ChoiceField(choices=CODE_CHOICES)
    detail = serializers.CharField(source="sentence")
    numbers = serializers.DictField()
    meeting = serializers.IntegerField(allow_null=True)
    offering = OfferingNamed(allow_null=True)

    def get_meeting(self, reason: Reason) -> int | None:
        meeting = self._meeting(reason)
        return meeting.pk if meeting else None

    def get_offering(self, reason: Reason) -> Offering | None:
        meeting = self._meeting(reason)
        return meeting.offering if meeting else None

    def _meeting(self, reason: Reason) -> Meeting | None:
        meeting: Meeting | None = self.context["meetings"].get(str(reason.numbers.get("starts_at")))
        return meeting


class Explanation(serializers.Serializer):
    """Whether the start is offered.

    If it is, `fit` and `fit_reasons` say how well it suits. Without a student they are null and
    empty. A start at an hour marked `never` can be booked, though no list of slots has it.
    """

    starts_at = serializers.DateTimeField()
    local_start = serializers.DateTimeField()
    time_zone = serializers.CharField()
    instructor_local_start = serializers.DateTimeField()
    instructor_time_zone = serializers.CharField()
    offered = serializers.BooleanField()
    fit = serializers.IntegerField(allow_null=True)
    fit_reasons = serializers.ListField(child=serializers.CharField())
    refusals = RefusalOutput(many=True)


class Explaining(ApiView):
    """All that stands against one start, not only the first."""

    queries = {"GET"}

    @operation(
        "explain_slot",
        scope=Scope.READ_CALENDAR,
        refused=(403, 404),
        parameters=[ExplainAsked],
        responses=Explanation,
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, ExplainAsked), me(request)
        instructor = named_instructor(wanted["instructor"])
        student, is_family = _for_whom(user, instructor, wanted.get("student"))
        time_zone, there = wanted.get("time_zone", user.zone), zone_of_hours(instructor)
        starts_at, now = wanted["starts_at"].astimezone(UTC), clock.now()
        found = explained(
            offering=open_offering(wanted["offering"]),
            instructor=instructor,
            student=student,
            starts_at=starts_at,
            now=now,
            is_family=is_family,
        )
        slots = dated([found.slot], now, time_zone) if found.slot else []
        return Response(
            {
                "starts_at": utc(starts_at),
                "local_start": local(starts_at, time_zone),
                "time_zone": time_zone,
                "instructor_local_start": local(starts_at, there),
                "instructor_time_zone": there,
                "offered": not found.reasons,
                "fit": slots[0].fit if slots else None,
                "fit_reasons": slots[0].reasons if slots else [],
                "refusals": RefusalOutput.of_all(found.reasons, meetings=found.meetings),
            }
        )


def _for_whom(
    user: User, instructor: Instructor, student_id: int | None
) -> tuple[Student | None, bool]:
    """The student meant, and whether the asker is told no more than a family is."""
    is_trusted = user.is_staff or instructor.user_id == user.pk
    if is_trusted and student_id is None:
        return None, False
    student = named_student(user, {"student": student_id}, now=clock.now())
    return student, not is_trusted
