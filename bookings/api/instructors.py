"""Instructors as the school has them: who they are, one who leaves, one who comes back."""

from datetime import datetime

from django.db.models import QuerySet
from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Instructor
from bookings import access, clock
from bookings.api.days_away import CallOffForm
from bookings.api.door import Result, answered
from bookings.api.fields import AskedFlag, AskedId, Search
from bookings.api.meeting_serializers import MeetingOutput
from bookings.api.operation import operation
from bookings.api.output import Output, ZoneName, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import OfferingNamed, a_student, an_instructor
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import Teaches
from bookings.operations.leaving import dismiss_instructor, teach_again
from bookings.queries.people import Group, people_in
from bookings.queries.places import held_in


class TaughtOffering(Output):
    """An offering that somebody teaches, and to which levels (1-10, both ends included)."""

    offering = OfferingNamed()
    lowest_level = serializers.IntegerField()
    highest_level = serializers.IntegerField()


class InstructorOutput(Output):
    """An instructor as admins see them. One who is not `active` teaches here no more. `account`
    is as in people/.
    """

    id = serializers.IntegerField()
    name = serializers.CharField(source="user.name")
    active = serializers.BooleanField(source="is_active")
    account = serializers.IntegerField(source="user_id")
    time_zone = ZoneName(source="user.zone")
    teaches = TaughtOffering(many=True)

    def get_teaches(self, row: Instructor) -> QuerySet[Teaches]:
        return row.teaches.all()


class InstructorsAsked(PageAsked):
    """Instructors in whose name or address each word of `q` is found; those who teach one
    offering. `active=false` lists those who teach here no more.
    """

    order = ("user__name", "id")
    in_order = "By name."
    narrows = {"offering": "teaches__offering"}
    q = Search(required=False)
    offering = AskedId(required=False)
    active = AskedFlag(required=False, default=True)


class Instructors(ApiView):
    """For admins: who teaches here. An instructor joins by an invitation."""

    queries = {"GET"}

    @operation(
        "instructors",
        scope=Scope.READ_PEOPLE,
        refused=(403,),
        parameters=[InstructorsAsked],
        responses=paged(InstructorOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, InstructorsAsked), me(request)
        group = Group.INSTRUCTORS if wanted["active"] else Group.DISMISSED
        rows = people_in(user, group, wanted.get("q", ""), now=clock.now())
        rows = InstructorsAsked.narrowed(rows, wanted, user)
        return page(request, InstructorsAsked, rows, InstructorOutput.of_all)


class OneInstructor(ApiView):
    """One instructor, for admins; also one who teaches here no more."""

    @operation("instructor", scope=Scope.READ_PEOPLE, refused=(403,), responses=InstructorOutput)
    def get(self, request: Request, pk: int) -> Response:
        user = me(request)
        access.require_admin(user)
        return Response(InstructorOutput.of(access.access_instructor(user, pk)))


class TeachingAgain(ApiView):
    """Lets an instructor who was dismissed teach again. They sign in again; what was called off
    stays so.
    """

    @operation(
        "teach_again", scope=PEOPLE, refused=(403, 409), request=None, responses=InstructorOutput
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            access.require_admin(user)
            instructor = access.access_instructor(user, pk)
            again = teach_again(actor=user, instructor=instructor, now=now)
            return Result(200, InstructorOutput.of(again))

        return answered(request, act)


class DismissedOutput(Output):
    """Who teaches here no more, the meetings called off for it, and the students who have no
    regular instructor any more.
    """

    instructor = an_instructor()
    called_off = MeetingOutput(many=True)
    regular_students = a_student(many=True)


class Dismissing(ApiView):
    """Ends the teaching of an instructor.

    409 `has-bookings` lists their meetings ahead, unless `call_off_reason` says why these are
    called off.
    """

    bodies = {"POST"}

    @operation(
        "dismiss_instructor",
        scope=PEOPLE,
        refused=(409,),
        request=CallOffForm,
        responses=DismissedOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, CallOffForm), me(request)

        def act(now: datetime) -> Result:
            access.require_admin(user)
            gone = dismiss_instructor(
                actor=user, instructor=access.access_instructor(user, pk), now=now, **sent
            )
            held = held_in(gone.called_off, user, now=now)
            return Result(200, DismissedOutput.of(gone, reader=user, held_in=held))

        return answered(request, act)
