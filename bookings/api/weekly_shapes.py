"""Weekly places and their options as the API says them."""

from typing import Any

from rest_framework import serializers

from accounts.models import Instructor, User
from bookings.access import name_for
from bookings.api.fields import Clock, Wired, clock, local, utc
from bookings.api.hours import WEEKDAYS
from bookings.api.problem_shapes import FailedDateShape
from bookings.api.references import Named, OfferingNamed, shown_instructor, shown_offering
from bookings.api.shapes import paged
from bookings.clock import now
from bookings.domain.explain import code_for_student
from bookings.domain.terms import Shift, shifts
from bookings.domain.vocabulary import Ended, Standing
from bookings.domain.weekly import WeeklyOption
from bookings.models import WeeklyPlace
from bookings.queries.weekly import FoundWeekly


class ShiftShape(serializers.Serializer):
    """From this date on the clock of `time_zone` shows another hour."""

    on = serializers.DateField()
    from_time = Clock()
    to_time = Clock()


class WeeklyTimeShape(Wired):
    """A weekday and wall time of the instructor's clock; `shifts` is on the reader's, named in `time_zone`."""

    wire = {"wall_at": "wall_time"}
    instructor = Named()
    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    wall_at = Clock()
    instructor_time_zone = serializers.CharField()
    time_zone = serializers.CharField()
    shifts = ShiftShape(many=True)


class HeldDateShape(serializers.Serializer):
    """A date that the place can hold; `burden` (0-20) is what its hour costs the student."""

    on = serializers.DateField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    local_start = serializers.DateTimeField()
    burden = serializers.IntegerField()


class WeeklySideShape(WeeklyTimeShape):
    """One weekly time judged over the term. Breaks and the dates of `away` are skipped; one of `failed` must be given up to take it."""

    held = HeldDateShape(many=True)
    failed = FailedDateShape(many=True)
    away = serializers.ListField(child=serializers.DateField())
    greatest_burden = serializers.IntegerField()
    sum_of_burdens = serializers.IntegerField()


class WeeklyOptionShape(WeeklySideShape):
    """An option; `following` is the sibling's that follows it, where a pair is to move."""

    following = WeeklySideShape(allow_null=True)


class WeeklyOptionList(serializers.Serializer):
    """Options, the best first."""

    results = WeeklyOptionShape(many=True)


class LessonShape(serializers.Serializer):
    """One lesson of the place, a booking of its own."""

    booking = serializers.IntegerField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    local_start = serializers.DateTimeField()
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])


class WeeklyPlaceShape(WeeklyTimeShape):
    """A weekly place with its lessons; of those of a place that was left, some may stay HELD: their notice had passed."""

    id = serializers.IntegerField()
    term = Named()
    student = Named()
    offering = OfferingNamed()
    lessons_promised = serializers.IntegerField()
    lessons = LessonShape(many=True)
    made_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField(allow_null=True)
    ended_reason = serializers.ChoiceField(choices=["", *(why.value for why in Ended)])


WEEKLY_PAGE = paged(WeeklyPlaceShape)


class WeeklyPlaceList(serializers.Serializer):
    """The weekly places just made, the one asked for first."""

    results = WeeklyPlaceShape(many=True)


def shown_options(found: FoundWeekly, user: User) -> list[dict[str, Any]]:
    return [
        {
            **_side(option, found, user),
            "following": _side(following, found, user) if following is not None else None,
        }
        for option, following in found.options
    ]


def _side(option: WeeklyOption, found: FoundWeekly, user: User) -> dict[str, Any]:
    return {
        **_time(
            found.instructors[option.instructor_id],
            option.at.weekday,
            option.at.minute,
        ),
        "instructor_time_zone": found.time_zones[option.instructor_id],
        "time_zone": user.zone,
        "shifts": _shifts(shifts([day.starts_at for day in option.held], user.zone)),
        "held": [
            {
                "on": day.on.isoformat(),
                "starts_at": utc(day.starts_at),
                "ends_at": utc(day.ends_at),
                "local_start": local(day.starts_at, user.zone),
                "burden": day.burden,
            }
            for day in option.held
        ],
        "failed": [
            {
                "on": day.on.isoformat(),
                "code": day.code if user.is_staff else code_for_student(day.code),
                "detail": day.detail,
            }
            for day in option.failed
        ],
        "away": [on.isoformat() for on in option.away],
        "greatest_burden": option.greatest_burden,
        "sum_of_burdens": option.sum_of_burdens,
    }


def shown_place(place: WeeklyPlace, user: User) -> dict[str, Any]:
    """A place for its family, its instructor or an admin. Needs what `access.weekly_places_of` joins, and meetings with bookings."""
    lessons = [booking for meeting in place.meetings.all() for booking in meeting.bookings.all()]
    held = [booking.starts_at for booking in lessons if booking.standing == Standing.HELD]
    return {
        "id": place.pk,
        "term": {"id": place.term_id, "name": place.term.name},
        "student": {"id": place.student_id, "name": _called(place, user)},
        "offering": shown_offering(place.offering),
        **_time(place.instructor, place.weekday, place.wall_at),
        "instructor_time_zone": place.zone,
        "time_zone": user.zone,
        "shifts": _shifts(shifts(held, user.zone)),
        "lessons_promised": place.term.lessons_promised,
        "lessons": [
            {
                "booking": booking.pk,
                "starts_at": utc(booking.starts_at),
                "ends_at": utc(booking.ends_at),
                "local_start": local(booking.starts_at, user.zone),
                "standing": booking.standing,
            }
            for booking in lessons
        ],
        "made_at": utc(place.made_at),
        "ended_at": utc(place.ended_at),
        "ended_reason": place.ended_why,
    }


def _called(place: WeeklyPlace, user: User) -> str:
    """The family and admins see the whole name; to the instructor a minor goes by her first."""
    return (
        name_for(user, place.student, now())
        if place.instructor.user_id == user.pk
        else place.student.full_name
    )


def _time(instructor: Instructor, weekday: int, wall_at: int) -> dict[str, Any]:
    return {
        "instructor": shown_instructor(instructor),
        "weekday": WEEKDAYS[weekday],
        "wall_time": clock(wall_at),
    }


def _shifts(found: tuple[Shift, ...]) -> list[dict[str, Any]]:
    return [
        {"on": shift.on.isoformat(), "from_time": shift.before, "to_time": shift.after}
        for shift in found
    ]
