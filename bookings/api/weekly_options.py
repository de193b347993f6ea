"""The weekly times that a term could hold, for a new place or for one that is to move."""

from datetime import datetime
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.fields import AskedId, AskedWhole, Strict
from bookings.api.named import (
    named_instructor,
    named_student,
    named_term,
    open_offering,
    pointing_at,
)
from bookings.api.operation import operation
from bookings.api.time_fields import Clock
from bookings.api.views import ApiView, asked, me
from bookings.api.weekly_serializers import WEEKLY_OPTIONS, shown_options
from bookings.domain.scopes import Scope
from bookings.models import WeeklyPlace
from bookings.queries.weekly import options_for
from bookings.queries.weekly_moves import options_instead


class WeeklyOptionsAsked(Strict):
    """`term` and `offering` for a new place, or `moving` for one that is to move.

    The times of a place that moves count as free. `after_place` is a sibling's place: only times
    right after it are offered. `earliest` and `latest` are times of the student's day, between
    which every lesson has to be.
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


class WeeklyOptions(ApiView):
    """Weekly times of one term, the best first.

    The order is: most dates held, least burden at worst and in sum, earliest.
    """

    queries = {"GET"}

    @operation(
        "weekly_options",
        scope=Scope.READ_CALENDAR,
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
