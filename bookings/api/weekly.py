"""Weekly places: what a term could hold, taking one, moving it with the sibling's that follows, leaving it."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, AskedWhole, Clock, Day, Id, Strict
from bookings.api.hours import WEEKDAYS
from bookings.api.named import (
    named_instructor,
    named_student,
    named_term,
    open_offering,
    pointing_at,
)
from bookings.api.operation import operation
from bookings.api.paging import PageAsked, page
from bookings.api.views import ApiView, asked, body, me
from bookings.api.weekly_serializers import (
    WEEKLY_OPTIONS,
    WEEKLY_PAGE,
    WEEKLY_PLACES,
    WeeklyPlaceOutput,
    shown_options,
    shown_place,
)
from bookings.domain.errors import Refused
from bookings.models import WeeklyPlace
from bookings.operations.weekly import leave_weekly_place, move_weekly_place, take_weekly_place
from bookings.queries.weekly import options_for, options_instead
from bookings.queries.weekly_places import weekly_places_with_dates


class WeeklyOptionsAsked(Strict):
    """`term` and `offering` for a new place, or `moving`, a place that is to move: its own times count as free.

    `after_place` is a sibling's place: only what follows it at once. `earliest` and `latest` are times of the student's day that
    hold every lesson.
    """

    term = AskedId(required=False)
    offering = AskedId(required=False)
    instructor = AskedId(required=False)
    student = AskedId(required=False)
    after_place = AskedId(required=False)
    moving = AskedId(required=False)
    earliest = Clock(required=False)
    latest = Clock(required=False)
    limit = AskedWhole(required=False, min_value=1, max_value=100, default=20)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "moving" in attrs:
            spare = sorted(set(attrs) - {"moving", "limit"})
            if spare:
                raise serializers.ValidationError(
                    {name: ["Leave this out: the place that moves says it."] for name in spare}
                )
        elif absent := sorted({"term", "offering"} - set(attrs)):
            raise serializers.ValidationError(
                {name: ["A new place needs this."] for name in absent}
            )
        return attrs


@extend_schema_field({"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$"})
class StartTime(Clock):
    """A wall time at which a lesson may start: 24:00 is the next day's 00:00."""


class WeeklyTimeForm(Strict):
    """A weekday and wall time of the instructor's clock. `without` are dates of the term to be given up."""

    wire = {"wall_at": "wall_time", "next_wall_at": "next_wall_time"}
    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    wall_at = StartTime()
    without = serializers.ListField(child=Day(), max_length=60, required=False)


class WeeklyPlaceForm(WeeklyTimeForm):
    """A place for a term; guardians and admins name the student."""

    term = Id()
    offering = Id()
    instructor = Id()
    student = Id(required=False)


class WeeklyMoveForm(WeeklyTimeForm):
    """Where the place moves to; `next_wall_time` moves the sibling's place that follows it to that time of the same weekday."""

    next_wall_at = StartTime(required=False)


class WeeklyOptions(ApiView):
    """Weekly times of one term, the best first: most dates held, least burden at worst and in sum, earliest."""

    queries = {"GET"}

    @operation(
        "weekly_options",
        refused=(403, 404),
        parameters=[WeeklyOptionsAsked],
        responses=WEEKLY_OPTIONS,
    )
    def get(self, request: Request) -> Response:
        wanted, user, now = asked(request, WeeklyOptionsAsked), me(request), clock.now()
        if "moving" in wanted:
            with pointing_at("moving"):
                place = access.access_own_weekly_place(user, wanted["moving"], now=now)
            found = options_instead(place=place, user=user, limit=wanted["limit"], now=now)
        else:
            if "instructor" in wanted:
                named_instructor(wanted["instructor"])  # nobody of that id is no empty answer
            found = options_for(
                term=named_term(wanted["term"]),
                offering=open_offering(wanted["offering"]),
                student=named_student(user, wanted, now=now),
                instructor_id=wanted.get("instructor"),
                after=_after(user, wanted, now),
                earliest=wanted.get("earliest"),
                latest=wanted.get("latest"),
                limit=wanted["limit"],
                now=now,
            )
        return Response({"results": shown_options(found, user)})


def _after(user: User, wanted: dict[str, Any], now: datetime) -> WeeklyPlace | None:
    """The sibling's place that the new one is to follow."""
    if "after_place" not in wanted:
        return None
    with pointing_at("after_place"):
        return access.access_own_weekly_place(user, wanted["after_place"], now=now)


class WeeklyPlacesAsked(PageAsked):
    """Filters: the places of one term, of one student."""

    term = AskedId(required=False)
    student = AskedId(required=False)


class WeeklyPlaces(ApiView):
    """The weekly places one may see: one's own, one's children's, those one teaches."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation("weekly_places", parameters=[WeeklyPlacesAsked], responses=WEEKLY_PAGE)
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, WeeklyPlacesAsked), me(request)
        rows = weekly_places_with_dates(user, now=clock.now())
        for name in ("term", "student"):
            if name in wanted:
                rows = rows.filter(**{name: wanted[name]})
        return page(
            request,
            self,
            rows,
            ("id",),
            lambda found: [shown_place(place, user) for place in found],
        )

    @operation(
        "take_weekly_place",
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=WeeklyPlaceForm,
        responses={201: WeeklyPlaceOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, WeeklyPlaceForm), me(request)

        def act(now: datetime) -> Result:
            place = take_weekly_place(
                actor=user,
                student=named_student(user, sent, now=now),
                instructor=named_instructor(sent["instructor"]),
                offering=open_offering(sent["offering"]),
                term=named_term(sent["term"]),
                now=now,
                **_time(sent),
            )
            return _result(place, user, status=201)

        return answered(request, act)


class OneWeeklyPlace(ApiView):
    """One weekly place with its lessons."""

    @operation("weekly_place", headers=("ETag",), responses=WeeklyPlaceOutput)
    def get(self, request: Request, pk: int) -> Response:
        place = weekly_places_with_dates(me(request), now=clock.now()).filter(pk=pk).first()
        if place is None:
            raise Refused("not-found", "There is nothing at this address that you may see.")
        return Response(shown_place(place, me(request)), headers=_tag(place))


class LeavingWeeklyPlace(ApiView):
    """Ends the lessons ahead but those whose notice has passed: they stay."""

    if_match = {"POST": NEEDED}

    @operation(
        "leave_weekly_place",
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=WeeklyPlaceOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            place, version = _own_version(request, pk)
            return _result(
                leave_weekly_place(actor=user, place=place, version=version, now=now), user
            )

        return answered(request, act)


class MovingWeeklyPlace(ApiView):
    """Another weekly time for the rest of the term, in one step; the answer holds the new place, or the two of a pair."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation("move_weekly_place", refused=(409,), request=WeeklyMoveForm, responses=WEEKLY_PLACES)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, WeeklyMoveForm), me(request)

        def act(now: datetime) -> Result:
            place, version = _own_version(request, pk)
            moved = move_weekly_place(
                actor=user,
                place=place,
                next_wall_at=sent.get("next_wall_at"),
                version=version,
                now=now,
                **_time(sent),
            )
            rows = {
                row.pk: row
                for row in weekly_places_with_dates(user, now=clock.now()).filter(
                    pk__in=[new.pk for new in moved]
                )
            }
            return Result(200, {"results": [shown_place(rows[new.pk], user) for new in moved]})

        return answered(request, act)


def _time(sent: dict[str, Any]) -> dict[str, Any]:
    return {
        "weekday": WEEKDAYS.index(sent["weekday"]),
        "wall_at": sent["wall_at"],
        "without": sent.get("without", ()),
    }


def _own_version(request: Request, pk: int) -> tuple[WeeklyPlace, int | None]:
    place = access.access_own_weekly_place(me(request), pk, now=clock.now())
    return place, version_asked(request, "weekly-place", pk, place.version)


def _tag(place: WeeklyPlace) -> dict[str, str]:
    return {"ETag": etag("weekly-place", place.pk, place.version)}


def _result(place: WeeklyPlace, user: User, *, status: int = 200) -> Result:
    fresh = weekly_places_with_dates(user, now=clock.now()).get(pk=place.pk)
    return Result(
        status,
        shown_place(fresh, user),
        {**location("weekly-places", fresh.pk), **_tag(fresh)},
    )
