"""Who teaches what: everybody reads it, admins say so."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, AskedWhole, Id, Strict, Whole
from bookings.api.named import pointing_at
from bookings.api.operation import operation
from bookings.api.output import Output, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import an_instructor
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import Offering
from bookings.operations.offerings import ChangedTeaching, set_teaches
from bookings.queries.offerings import taught_by


class TeachingOutput(Output):
    """An instructor who teaches the offering now, and to which levels (1-10, both ends
    included).
    """

    instructor = an_instructor()
    lowest_level = serializers.IntegerField()
    highest_level = serializers.IntegerField()


class ChangedTeachingOutput(Output):
    """What has been set. `bookings_outside` counts the bookings ahead with this instructor that
    lie outside the levels; they stay booked.
    """

    bookings_outside = serializers.IntegerField(source="left_outside")


class TeachingAsked(PageAsked):
    """Those who teach students of one level; one instructor."""

    order = ("instructor__user__name", "id")
    in_order = "By the instructor's name."
    narrows = {"instructor": "instructor"}
    instructor = AskedId(required=False)
    level = AskedWhole(min_value=1, max_value=10, required=False)


class TeachingForm(Strict):
    """An instructor, and the levels that they teach here."""

    instructor = Id()
    lowest_level = Whole(min_value=1, max_value=10)
    highest_level = Whole(min_value=1, max_value=10)


class NoLongerForm(Strict):
    """Who teaches it no longer."""

    instructor = Id()


class Teaching(ApiView):
    """Who teaches an offering. Its ETag is the offering's."""

    queries = {"GET"}
    bodies = {"PUT", "DELETE"}
    if_match = {"PUT": NEEDED, "DELETE": NEEDED}

    @operation(
        "offering_instructors",
        scope=Scope.READ_CALENDAR,
        headers=("ETag",),
        parameters=[TeachingAsked],
        responses=paged(TeachingOutput),
    )
    def get(self, request: Request, pk: int) -> Response:
        wanted, user = asked(request, TeachingAsked), me(request)
        offering = access.access_offering(pk)
        rows = TeachingAsked.narrowed(taught_by(offering), wanted, user)
        if "level" in wanted:
            rows = rows.at_level(wanted["level"])
        answer = page(request, TeachingAsked, rows, TeachingOutput.of_all)
        answer.headers["ETag"] = _tag(offering)["ETag"]
        return answer

    @operation(
        "set_teaching",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(404, 409),
        request=TeachingForm,
        responses=ChangedTeachingOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        """Sets the levels to which one instructor teaches it."""
        sent = body(request, TeachingForm)
        return _set(request, pk, sent, (sent["lowest_level"], sent["highest_level"]))

    @operation(
        "end_teaching",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(404,),
        request=NoLongerForm,
        responses={200: ChangedTeachingOutput},
    )
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        """From now on this instructor teaches it no longer. What is booked stays."""
        return _set(request, pk, body(request, NoLongerForm), None)


def _set(
    request: Request, pk: int, sent: dict[str, Any], levels: tuple[int, int] | None
) -> HttpResponseBase:
    user = me(request)
    access.require_admin(user)

    def act(now: datetime) -> Result:
        offering = access.access_offering(pk)
        with pointing_at("instructor"):
            instructor = access.access_instructor(user, sent["instructor"])
        changed: ChangedTeaching = set_teaches(
            actor=user,
            offering=offering,
            instructor=instructor,
            levels=levels,
            version=version_asked(request, "offering", pk, offering.version),
            now=now,
        )
        return Result(200, ChangedTeachingOutput.of(changed), _tag(changed.offering))

    return answered(request, act)


def _tag(offering: Offering) -> dict[str, str]:
    return {"ETag": etag("offering", offering.pk, offering.version)}
