"""Wishes for other families' weekly times, and exchanges, as they are sent and shown."""

from collections.abc import Sequence
from datetime import datetime

from rest_framework import serializers

from accounts.models import Instructor
from bookings.api.fields import AskedId, Id, Strict
from bookings.api.output import Output, Utc
from bookings.api.paging import PageAsked
from bookings.api.references import a_student, an_instructor
from bookings.api.time_fields import WEEKDAYS, Clock
from bookings.api.weekly_serializers import WeeklyTimeOutput
from bookings.domain.terms import Shift
from bookings.domain.vocabulary import Ended
from bookings.models import WeeklyPlace, WishOrder
from bookings.operations.wishes import MOST_WISHES
from bookings.queries.wishes import OtherTime, wished_by


class WishesForm(Strict):
    """The whole order: ids of offered times, the best first. An empty one withdraws it."""

    weekly_places = serializers.ListField(child=Id(), max_length=MOST_WISHES)


class OtherTimeOutput(WeeklyTimeOutput):
    """A weekly time that another family has. `id` names it in an order.

    `greatest_burden` (0-20) is what its worst hour costs the student.
    """

    id = serializers.IntegerField(source="place_id")
    instructor_time_zone = serializers.CharField(source="time_zone")
    first_starts_at = Utc()
    greatest_burden = serializers.IntegerField(source="option.greatest_burden")

    def get_instructor(self, row: OtherTime) -> Instructor:
        return row.instructor

    def get_weekday(self, row: OtherTime) -> str:
        return WEEKDAYS[row.option.at.weekday]

    def get_wall_at(self, row: OtherTime) -> int:
        return row.option.at.minute

    def get_first_starts_at(self, row: OtherTime) -> datetime:
        return row.option.held[0].starts_at

    def get_shifts(self, row: OtherTime) -> Sequence[Shift]:
        return row.option.shifts


class WishesOutput(Output):
    """What the family would rather have than this place, and what it may choose from."""

    place = serializers.IntegerField(source="place_id")
    weekly_places = serializers.ListField(child=serializers.IntegerField())
    on_offer = OtherTimeOutput(many=True)

    def get_weekly_places(self, order: WishOrder) -> list[int]:
        return wished_by(order)

    def get_on_offer(self, order: WishOrder) -> list[OtherTime]:
        return list(self.context["offered"])


class PlaceTimeOutput(Output):
    """A weekday and wall time of the instructor's clock."""

    wire = {"wall_at": "wall_time"}
    instructor = an_instructor()
    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    wall_at = Clock()
    instructor_time_zone = serializers.CharField(source="zone")

    def get_weekday(self, place: WeeklyPlace) -> str:
        return WEEKDAYS[place.weekday]


class ExchangesAsked(PageAsked):
    """What is asked about one student's places."""

    order = ("id",)
    in_order = "In the order in which they were asked."
    narrows = {"student": "place__student"}
    student = AskedId(required=False)


class ExchangeOutput(Output):
    """What a family is asked for one of its weekly places, until `answer_by`.

    With a yes from every family all places change hands, and `ended_reason` is `placed`. Nothing
    says who the others are, how many, or what they have answered.
    """

    id = serializers.IntegerField(source="pk")
    student = a_student(source="place.student")
    place = serializers.IntegerField(source="place_id")
    leaves = PlaceTimeOutput(source="place")
    takes = PlaceTimeOutput()
    first_starts_at = Utc(source="first_at")
    answer_by = Utc(source="exchange.answer_by")
    said_yes_at = Utc(allow_null=True)
    ended_at = Utc(source="exchange.ended_at", allow_null=True)
    ended_reason = serializers.ChoiceField(
        choices=["", *(why.value for why in Ended)], source="exchange.ended_why"
    )
