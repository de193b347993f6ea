"""Slots: what can be booked now."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Student, User
from bookings import access, clock
from bookings.api.fields import AskedId, AskedWhole, Strict
from bookings.api.named import (
    named_instructor,
    named_owed_lesson,
    named_student,
    open_offering,
    pointing_at,
)
from bookings.api.operation import operation
from bookings.api.output import utc
from bookings.api.slot_serializers import SlotOutput, shown_slots
from bookings.api.time_fields import Clock, InstantOrDay, Zone, as_instant, check_span
from bookings.api.views import ApiView, asked, me
from bookings.domain.scopes import Scope
from bookings.domain.slots import Slot
from bookings.domain.start_costs import Listing
from bookings.domain.vocabulary import Night
from bookings.models import Meeting, Offering
from bookings.queries.slots import near, slots_for

AHEAD = timedelta(days=14)
_SAME_START = (
    100  # more instructors than that do not start together; the last start shown is shown whole
)


class SlotsAsked(Strict):
    """`from` and `to` bound the starts, [from, to), 62 days at most.

    A date begins with the reader's day. `earliest` and `latest` are times of the student's day,
    between which the whole meeting has to be. `moving` is a booking to be moved: its time counts as
    free, and its present start is not offered. `owed_lesson` is what the booking is to make up:
    starts end with its use-by date, as they do where `moving` is a make-up lesson.
    `night=include` lists starts of burden 8 or more as well: at night, very early or very late, or
    at hours that the family gives only if there is nothing else. Starts at hours marked `never` are
    in no list, and can be booked all the same.
    """

    wire = {"since": "from", "until": "to"}
    offering = AskedId()
    since = InstantOrDay(required=False)
    until = InstantOrDay(required=False)
    instructor = AskedId(required=False)
    student = AskedId(required=False)
    time_zone = Zone(required=False)
    earliest = Clock(required=False)
    latest = Clock(required=False)
    limit = AskedWhole(required=False, min_value=1, max_value=500, default=200)
    moving = AskedId(required=False)
    owed_lesson = AskedId(required=False)
    night = serializers.ChoiceField(
        choices=[(Night.INCLUDED.value, "Starts of burden 8 or more as well.")], required=False
    )


class SlotList(serializers.Serializer):
    """Slots by start. Where they were cut, `next_from` is the `from` to go on with."""

    results = SlotOutput(many=True)
    next_from = serializers.DateTimeField(allow_null=True)


class Slots(ApiView):
    """Times that suit one student for one offering."""

    queries = {"GET"}

    @operation(
        "slots",
        scope=Scope.READ_CALENDAR,
        refused=(403, 404),
        parameters=[SlotsAsked],
        responses=SlotList,
    )
    def get(self, request: Request) -> Response:
        wanted, now, user = asked(request, SlotsAsked), clock.now(), me(request)
        time_zone = wanted.get("time_zone", user.zone)
        about = _about(user, wanted, now)
        student = named_student(user, {"student": about.student_id}, now=now)
        since = as_instant(wanted["since"], time_zone) if "since" in wanted else now
        until = (
            as_instant(wanted["until"], time_zone) if "until" in wanted else max(since, now) + AHEAD
        )
        check_span(since, until)
        found = slots_for(
            offering=open_offering(wanted["offering"]),
            student=student,
            since=since,
            until=until,
            now=now,
            instructor_id=wanted.get("instructor"),
            earliest=wanted.get("earliest"),
            latest=wanted.get("latest"),
            limit=wanted["limit"] + _SAME_START,
            moving=about.moving,
            use_by=about.use_by,
            listing=Listing(Night(wanted.get("night", Night.LEFT_OUT))),
            by_school=access.acts_as_school(user, student),
        )
        if "instructor" in wanted and not found.instructors:
            named_instructor(wanted["instructor"])  # nobody of that id is no empty answer
        slots, next_from = _cut(found.slots, wanted["limit"])
        return Response(
            {
                "results": shown_slots(slots, found.instructors, time_zone, now=now),
                "next_from": utc(next_from),
            }
        )


@dataclass(frozen=True, slots=True)
class _About:
    """Whom the starts are for, the lesson that moves, and the use-by date of a make-up lesson."""

    student_id: int | None
    moving: Meeting | None = None
    use_by: date | None = None


def _about(user: User, wanted: dict[str, Any], now: datetime) -> _About:
    student_id = wanted.get("student")
    if "moving" in wanted:
        with pointing_at("moving"):
            booking = access.access_own_booking(user, wanted["moving"], now=now)
        return _About(student_id or booking.student_id, booking.meeting, booking.use_by)
    if "owed_lesson" in wanted:
        owed = named_owed_lesson(user, wanted, now=now)
        return _About(student_id or owed.student_id, use_by=owed.use_by)
    return _About(student_id)


def _cut(slots: list[Slot], limit: int) -> tuple[list[Slot], datetime | None]:
    """At most `limit` slots and those that start together with the last; where to go on."""
    if len(slots) <= limit:
        return slots, None
    last = slots[limit - 1].starts_at
    rest = (slot.starts_at for slot in slots[limit:] if slot.starts_at > last)
    return [slot for slot in slots if slot.starts_at <= last], next(rest, None)


def near_start(
    offering: Offering,
    student: Student,
    starts_at: datetime,
    *,
    now: datetime,
    instructor_id: int | None,
    use_by: date | None,
    user: User,
) -> list[dict[str, Any]]:
    """Three starts near one that could not be had, as this user reads them; none after the `use_by`
    date of a make-up lesson.
    """
    found = near(
        offering=offering,
        student=student,
        starts_at=starts_at,
        now=now,
        instructor_id=instructor_id,
        use_by=use_by,
        by_school=access.acts_as_school(user, student),
    )
    return shown_slots(found.slots, found.instructors, user.zone, now=now)
