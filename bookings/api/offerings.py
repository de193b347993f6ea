"""What can be booked."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import clock
from bookings.api.calls import Call
from bookings.api.operation import operation
from bookings.api.references import Named, OfferingNamed, shown_offering
from bookings.domain.policy import Policy
from bookings.models import Offering
from bookings.queries.offerings import offering_rules, open_offerings_with_teachers, policy_in_words
from bookings.queries.policies import policy_in_force


class OfferingTeacher(Named):
    """Who teaches it, to which levels (1-10, both ends included)."""

    lowest_level = serializers.IntegerField()
    highest_level = serializers.IntegerField()


class OfferingShape(OfferingNamed):
    """An offering; lengths in minutes. `policy` says the rules in sentences."""

    summary = serializers.CharField()
    minutes = serializers.IntegerField()
    changeover_minutes = serializers.IntegerField()
    policy = serializers.ListField(child=serializers.CharField())
    instructors = OfferingTeacher(many=True)


class OfferingList(serializers.Serializer):
    """All of them: there are few."""

    results = OfferingShape(many=True)


class Offerings(Call):
    """Offerings that can be booked now."""

    @operation("offerings", responses=OfferingList)
    def get(self, request: Request) -> Response:
        policy = policy_in_force(clock.now()).rules()
        return Response(
            {"results": [_shown(offering, policy) for offering in open_offerings_with_teachers()]}
        )


def _shown(offering: Offering, policy: Policy) -> dict[str, Any]:
    return {
        **shown_offering(offering),
        "summary": offering.summary,
        "minutes": offering.minutes,
        "changeover_minutes": offering_rules(offering, policy).changeover_minutes,
        "policy": policy_in_words(policy, one_on_one=offering.is_one_on_one),
        "instructors": [
            {
                "id": row.instructor_id,
                "name": row.instructor.user.name,
                "lowest_level": row.lowest_level,
                "highest_level": row.highest_level,
            }
            for row in offering.taught_by.all()
        ],
    }
