"""Extra hours of an instructor. An admin names the instructor."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.addresses import location
from bookings.api.conditions import HONOURED, etag, names
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, Id, Strict
from bookings.api.hours import asked_instructor
from bookings.api.named import whose_time
from bookings.api.operation import operation
from bookings.api.output import Output, ZoneName, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import an_instructor
from bookings.api.time_fields import Day, WindowTime, Zone
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import ExtraHours
from bookings.operations.hours import add_extra_hours, remove_extra_hours
from bookings.queries.teaching import zone_of_hours


class ExtraHoursForm(Strict):
    """A window on one date; without a zone, in that of the week."""

    instructor = Id(required=False)
    on = Day()
    opens = WindowTime()
    closes = WindowTime()
    time_zone = Zone(required=False)


class ExtraHoursOutput(Output):
    """Extra hours on one date."""

    id = serializers.IntegerField()
    instructor = an_instructor()
    on = serializers.DateField()
    opens = WindowTime()
    closes = WindowTime()
    time_zone = ZoneName()


class ExtraHoursAsked(PageAsked):
    """The instructor whose time is meant; the caller where left out."""

    order = ("on", "opens", "id")
    in_order = "By day and time of day."
    instructor = AskedId(required=False)


class AllExtraHours(ApiView):
    """One-off windows beside the weekly ones."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "extra_hours",
        scope=Scope.READ_CALENDAR,
        refused=(403, 404),
        parameters=[ExtraHoursAsked],
        responses=paged(ExtraHoursOutput),
    )
    def get(self, request: Request) -> Response:
        wanted = asked(request, ExtraHoursAsked)
        rows = whose_time(me(request), wanted).extra_hours.select_related("instructor__user")
        return page(request, ExtraHoursAsked, rows, ExtraHoursOutput.of_all)

    @operation(
        "add_extra_hours",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=ExtraHoursForm,
        responses={201: ExtraHoursOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent = body(request, ExtraHoursForm)

        def act(now: datetime) -> Result:
            instructor = asked_instructor(request, sent.get("instructor"))
            times = {"time_zone": zone_of_hours(instructor), **sent, "instructor": instructor}
            extra = add_extra_hours(actor=me(request), now=now, **times)
            return Result(
                201,
                ExtraHoursOutput.of(extra),
                {**location("extra-hours", extra.pk), **_tag(extra)},
            )

        return answered(request, act)


class OneExtraHours(ApiView):
    """One window of extra hours. What is booked in it stays when it is removed.

    Extra hours never change, they are only removed. So If-Match is honoured and not needed.
    """

    if_match = {"DELETE": HONOURED}

    @operation(
        "extra_hours_one", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=ExtraHoursOutput
    )
    def get(self, request: Request, pk: int) -> Response:
        extra = access.access_extra_hours(me(request), pk)
        return Response(ExtraHoursOutput.of(extra), headers=_tag(extra))

    @operation("remove_extra_hours", scope=PEOPLE, responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            extra = access.access_extra_hours(me(request), pk)
            names(request, _tag(extra)["ETag"])
            remove_extra_hours(actor=me(request), extra=extra, now=now)
            return Result(204)

        return answered(request, act)


def _tag(extra: ExtraHours) -> dict[str, str]:
    # Extra hours have one tag: another date is another row, with another id.
    return {"ETag": etag("extra-hours", extra.pk, 1)}
