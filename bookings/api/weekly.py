"""Weekly places: taking one, moving it with the sibling's that follows, leaving it."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.named import named_instructor, named_student, named_term, open_offering
from bookings.api.operation import operation
from bookings.api.paging import page
from bookings.api.time_fields import WEEKDAYS
from bookings.api.views import ApiView, asked, body, me
from bookings.api.weekly_serializers import (
    WEEKLY_PAGE,
    WEEKLY_PLACES,
    WeeklyMoveForm,
    WeeklyPlaceForm,
    WeeklyPlaceOutput,
    WeeklyPlacesAsked,
    shown_place,
)
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import WeeklyPlace
from bookings.operations.weekly import leave_weekly_place, move_weekly_place, take_weekly_place
from bookings.queries.weekly_places import weekly_places_with_dates


class WeeklyPlaces(ApiView):
    """The weekly places one may see: one's own, one's children's, those one teaches."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "weekly_places",
        scope=Scope.READ_CALENDAR,
        parameters=[WeeklyPlacesAsked],
        responses=WEEKLY_PAGE,
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, WeeklyPlacesAsked), me(request)
        rows = weekly_places_with_dates(user, now=clock.now())
        rows = WeeklyPlacesAsked.narrowed(rows, wanted, user)
        return page(
            request,
            WeeklyPlacesAsked,
            rows,
            lambda found: [shown_place(place, user) for place in found],
        )

    @operation(
        "take_weekly_place",
        scope=PEOPLE,
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

    @operation(
        "weekly_place", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=WeeklyPlaceOutput
    )
    def get(self, request: Request, pk: int) -> Response:
        place = weekly_places_with_dates(me(request), now=clock.now()).filter(pk=pk).first()
        if place is None:
            raise access.not_there()
        return Response(shown_place(place, me(request)), headers=_tag(place))


class LeavingWeeklyPlace(ApiView):
    """Cancels the lessons ahead, except those whose cancellation deadline has passed."""

    if_match = {"POST": NEEDED}

    @operation(
        "leave_weekly_place",
        scope=PEOPLE,
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
    """Another weekly time for the rest of the term, in one step.

    The answer holds the new place, or the two of a pair.
    """

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "move_weekly_place",
        scope=PEOPLE,
        refused=(409,),
        request=WeeklyMoveForm,
        responses=WEEKLY_PLACES,
    )
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
