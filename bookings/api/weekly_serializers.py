"""Weekly places and their options."""

from collections.abc import Sequence
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.models import Instructor, User
from bookings.api.fields import AskedId, Id, Strict
from bookings.api.output import Local, Output, Utc, WallText, listed, paged
from bookings.api.paging import PageAsked
from bookings.api.problem_schemas import FailedDateOutput
from bookings.api.references import Known, Named, OfferingNamed, an_instructor, student_known
from bookings.api.time_fields import WEEKDAYS, Clock, Day
from bookings.domain.terms import Shift, shifts
from bookings.domain.vocabulary import Ended, Standing
from bookings.domain.weekly import WeeklyOption
from bookings.models import Booking, WeeklyPlace
from bookings.queries.weekly import FoundWeekly


class ShiftOutput(Output):
    """From this date on the clock of `time_zone` shows another hour."""

    on = serializers.DateField()
    from_time = WallText(source="before")
    to_time = WallText(source="after")


class WeeklyTimeOutput(Output):
    """A weekday and wall time of the instructor's clock.

    `shifts` is on the reader's clock, named in `time_zone`.
    """

    wire = {"wall_at": "wall_time"}
    instructor = an_instructor()
    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    wall_at = Clock()
    instructor_time_zone = serializers.CharField()
    time_zone = serializers.CharField()
    shifts = ShiftOutput(many=True)

    def get_time_zone(self, row: Any) -> str:
        return self.reader_zone


class HeldDateOutput(Output):
    """A date that the place can hold; `burden` (0-20) is what its hour costs the student."""

    on = serializers.DateField()
    starts_at = Utc()
    ends_at = Utc()
    local_start = Local(source="starts_at")
    burden = serializers.IntegerField()


class WeeklySideOutput(WeeklyTimeOutput):
    """One weekly time judged over the term.

    Breaks and the dates of `away` are skipped. Each date of `failed` must be given up to take the
    place.
    """

    held = HeldDateOutput(many=True)
    failed = FailedDateOutput(many=True)
    away = serializers.ListField(child=serializers.DateField())
    greatest_burden = serializers.IntegerField()
    sum_of_burdens = serializers.IntegerField()

    def get_instructor(self, option: WeeklyOption) -> Instructor:
        return self.found.instructors[option.instructor_id]

    def get_weekday(self, option: WeeklyOption) -> str:
        return WEEKDAYS[option.at.weekday]

    def get_wall_at(self, option: WeeklyOption) -> int:
        return option.at.minute

    def get_instructor_time_zone(self, option: WeeklyOption) -> str:
        return self.found.time_zones[option.instructor_id]

    def get_shifts(self, option: WeeklyOption) -> Sequence[Shift]:
        return shifts([day.starts_at for day in option.held], self.reader_zone)

    @property
    def found(self) -> FoundWeekly:
        """What the options were found among."""
        found: FoundWeekly = self.context["found"]
        return found


class WeeklyOptionOutput(WeeklySideOutput):
    """An option; `following` is the sibling's that follows it, where a pair is to move."""

    following = WeeklySideOutput(allow_null=True)


class LessonOutput(Output):
    """One lesson of the place, a booking of its own."""

    booking = serializers.IntegerField(source="pk")
    starts_at = Utc()
    ends_at = Utc()
    local_start = Local(source="starts_at")
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])


class WeeklyPlacesAsked(PageAsked):
    """The places of one term, student, instructor or offering."""

    order = ("id",)
    in_order = "In the order in which they were taken."
    narrows = {
        "term": "term",
        "student": "student",
        "instructor": "instructor",
        "offering": "offering",
    }
    term = AskedId(required=False)
    student = AskedId(required=False)
    instructor = AskedId(required=False)
    offering = AskedId(required=False)


class WeeklyPlaceOutput(WeeklyTimeOutput):
    """A weekly place with its lessons.

    When a place is given up, lessons whose cancellation deadline has passed stay HELD.
    """

    id = serializers.IntegerField()
    term = Named()
    student = Named()
    offering = OfferingNamed()
    lessons_promised = serializers.IntegerField(source="term.lessons_promised")
    instructor_time_zone = serializers.CharField(source="zone")
    lessons = LessonOutput(many=True)
    made_at = Utc()
    ended_at = Utc(allow_null=True)
    ended_reason = serializers.ChoiceField(
        choices=["", *(why.value for why in Ended)], source="ended_why"
    )

    def get_weekday(self, place: WeeklyPlace) -> str:
        return WEEKDAYS[place.weekday]

    def get_shifts(self, place: WeeklyPlace) -> Sequence[Shift]:
        held = [row.starts_at for row in self.get_lessons(place) if row.standing == Standing.HELD]
        return shifts(held, self.reader_zone)

    def get_student(self, place: WeeklyPlace) -> Known:
        return student_known(place.student, place.instructor, self.reader)

    def get_lessons(self, place: WeeklyPlace) -> list[Booking]:
        meetings = place.meetings.all()
        return [booking for meeting in meetings for booking in meeting.bookings.all()]


@extend_schema_field({"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$"})
class StartTime(Clock):
    """A wall time at which a lesson may start: 24:00 is the next day's 00:00."""


class WeeklyTimeForm(Strict):
    """A weekday and wall time of the instructor's clock.

    `without` are dates of the term to be given up.
    """

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
    """Where the place moves to.

    `next_wall_time` moves the sibling's place that follows it to that time of the same weekday.
    """

    next_wall_at = StartTime(required=False)


WEEKLY_PAGE = paged(WeeklyPlaceOutput)
WEEKLY_OPTIONS = listed(WeeklyOptionOutput)
WEEKLY_PLACES = listed(WeeklyPlaceOutput)


def shown_options(found: FoundWeekly, user: User) -> list[dict[str, Any]]:
    """Options, the best first."""
    following = WeeklySideOutput(context={"reader": user, "found": found})
    return [
        {
            **WeeklySideOutput.of(option, reader=user, found=found),
            "following": None if next_one is None else following.to_representation(next_one),
        }
        for option, next_one in found.options
    ]


def shown_place(place: WeeklyPlace, user: User) -> dict[str, Any]:
    """A place for its family, its instructor or an admin, with its lessons by date."""
    return WeeklyPlaceOutput.of(place, reader=user)
