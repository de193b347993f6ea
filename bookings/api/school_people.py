"""The accounts of the school, for admins: found, renamed, closed and opened again."""

from collections.abc import Callable
from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, names
from bookings.api.door import Result, answered
from bookings.api.fields import AskedFlag, Line, Search, Strict
from bookings.api.operation import operation
from bookings.api.output import Output, ZoneName, paged
from bookings.api.paging import PageAsked, page
from bookings.api.people import ROLES
from bookings.api.references import Known, Named
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.accounts import change_account
from bookings.operations.closing import close_account, reopen_account
from bookings.queries.accounts_of_people import Person, one_person, people_of_school, person_of


class PersonOutput(Output):
    """An account. `student` and `instructor` are the person as they learn and teach here, or
    did; an account that is not `active` is closed.
    """

    id = serializers.IntegerField(source="user.pk")
    email = serializers.EmailField(source="user.email")
    name = serializers.CharField(source="user.name")
    time_zone = ZoneName(source="user.zone")
    active = serializers.BooleanField(source="user.is_active")
    roles = serializers.ListField(child=serializers.ChoiceField(choices=ROLES))
    student = Named(allow_null=True)
    instructor = Named(allow_null=True)

    def get_student(self, row: Person) -> Known | None:
        return Known(row.student, row.user.name) if row.student else None

    def get_instructor(self, row: Person) -> Known | None:
        return Known(row.instructor, row.user.name) if row.instructor else None


class PeopleAsked(PageAsked):
    """People in whose name or address each word of `q` is found, in one role. `active=false` lists
    closed accounts.
    """

    order = ("name", "id")
    in_order = "By name."
    q = Search(required=False)
    role = serializers.ChoiceField(choices=ROLES, required=False)
    active = AskedFlag(required=False, default=True)


class People(ApiView):
    """For admins: everybody with an account. A person joins by an invitation."""

    queries = {"GET"}

    @operation(
        "people",
        scope=PEOPLE,
        refused=(403,),
        parameters=[PeopleAsked],
        responses=paged(PersonOutput),
    )
    def get(self, request: Request) -> Response:
        wanted = asked(request, PeopleAsked)
        rows = people_of_school(
            me(request),
            wanted.get("q", ""),
            role=wanted.get("role"),
            is_active=wanted["active"],
        )
        return page(
            request, PeopleAsked, rows, lambda found: PersonOutput.of_all(map(person_of, found))
        )


class PersonChange(Strict):
    """Another name. The address is changed on the pages, where it has to be proven."""

    name = Line(max_length=120, required=False)


class OnePerson(ApiView):
    """One account, open or closed."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation("person", scope=PEOPLE, headers=("ETag",), refused=(403,), responses=PersonOutput)
    def get(self, request: Request, pk: int) -> Response:
        person = one_person(me(request), pk)
        return Response(PersonOutput.of(person), headers=_tag(person))

    @operation(
        "change_person",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403,),
        request=PersonChange,
        responses=PersonOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        name = body(request, PersonChange).get("name")
        return _done(
            request,
            pk,
            lambda user, seen, now: change_account(
                actor=me(request), user=user, name=name, seen=seen, now=now
            ),
        )


class ClosingForm(Strict):
    """`reason` is a sentence for everybody whose lessons and places end.

    Without it the request is refused if anything lies ahead.
    """

    reason = Line(max_length=200, required=False)


class ClosingPerson(ApiView):
    """Closes an account and ends all roles of its person.

    409 `has-bookings` lists what lies ahead, unless `reason` says why it ends.
    """

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "close_person",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=ClosingForm,
        responses=PersonOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        why = body(request, ClosingForm).get("reason")
        return _done(
            request,
            pk,
            lambda user, seen, now: close_account(
                actor=me(request), user=user, why=why, seen=seen, now=now
            ),
        )


class ReopeningPerson(ApiView):
    """Opens a closed account.

    The old password works again, and a student learns here again. Other roles do not come
    back.
    """

    if_match = {"POST": NEEDED}

    @operation(
        "reopen_person",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=None,
        responses=PersonOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _done(
            request,
            pk,
            lambda user, seen, now: reopen_account(
                actor=me(request), user=user, seen=seen, now=now
            ),
        )


def _done(
    request: Request, pk: int, change: Callable[[User, str | None, datetime], User]
) -> HttpResponseBase:
    """Does `change` to the person that If-Match names, and answers with the changed person."""

    def act(now: datetime) -> Result:
        person = one_person(me(request), pk)
        seen = person.seen if names(request, _tag(person)["ETag"]) else None
        change(person.user, seen, now)
        changed = one_person(me(request), pk)
        headers = {**location("people", pk), **_tag(changed)}
        if request.method == "PATCH":
            headers.pop("Location")
        return Result(200, PersonOutput.of(changed), headers)

    return answered(request, act)


def _tag(person: Person) -> dict[str, str]:
    return {"ETag": etag("person", person.user.pk, person.seen)}
