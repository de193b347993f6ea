"""What can be booked."""

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import clock
from bookings.api.operation import operation
from bookings.api.output import Output, listed
from bookings.api.references import OfferingNamed
from bookings.api.views import ApiView
from bookings.models import Offering
from bookings.queries.offerings import offering_rules, open_offerings_with_teachers, policy_in_words
from bookings.queries.policies import policy_in_force


class OfferingTeacher(Output):
    """Who teaches it, to which levels (1-10, both ends included)."""

    id = serializers.IntegerField(source="instructor_id")
    name = serializers.CharField(source="instructor.user.name")
    lowest_level = serializers.IntegerField()
    highest_level = serializers.IntegerField()


class OfferingOutput(OfferingNamed):
    """An offering; lengths in minutes. `policy` says the rules in sentences."""

    summary = serializers.CharField()
    minutes = serializers.IntegerField()
    changeover_minutes = serializers.IntegerField()
    policy = serializers.ListField(child=serializers.CharField())
    instructors = OfferingTeacher(many=True, source="taught_by")

    def get_changeover_minutes(self, offering: Offering) -> int:
        return offering_rules(offering, self.context["policy"]).changeover_minutes

    def get_policy(self, offering: Offering) -> list[str]:
        return policy_in_words(self.context["policy"], one_on_one=offering.is_one_on_one)


class Offerings(ApiView):
    """Offerings that can be booked now."""

    @operation("offerings", responses=listed(OfferingOutput))
    def get(self, request: Request) -> Response:
        policy = policy_in_force(clock.now()).rules()
        rows = open_offerings_with_teachers()
        return Response({"results": OfferingOutput.of_all(rows, policy=policy)})
