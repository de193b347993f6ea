"""Slots as the API says them."""

from collections.abc import Iterable, Mapping
from typing import Any

from rest_framework import serializers

from accounts.models import Instructor
from bookings.api.fields import local, utc
from bookings.api.references import Named, shown_instructor
from bookings.domain.slots import Slot
from bookings.queries.teaching import zone_of_hours


class SlotShape(serializers.Serializer):
    """A start that can be booked now, on the reader's clock and on the instructor's. `burden` (0-20) is what its hour costs the
    student; `fit` (0-100) how well it suits her and the instructor's day, with its `fit_reasons` in words."""

    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    local_start = serializers.DateTimeField()
    time_zone = serializers.CharField()
    instructor_local_start = serializers.DateTimeField()
    instructor_time_zone = serializers.CharField()
    instructor = Named()
    burden = serializers.IntegerField()
    fit = serializers.IntegerField()
    fit_reasons = serializers.ListField(child=serializers.CharField())


def shown_slots(
    slots: Iterable[Slot], instructors: Mapping[int, Instructor], time_zone: str
) -> list[dict[str, Any]]:
    people = {
        pk: (shown_instructor(person), zone_of_hours(person)) for pk, person in instructors.items()
    }
    return [
        {
            "starts_at": utc(slot.starts_at),
            "ends_at": utc(slot.ends_at),
            "local_start": local(slot.starts_at, time_zone),
            "time_zone": time_zone,
            "instructor_local_start": local(slot.starts_at, people[slot.instructor_id][1]),
            "instructor_time_zone": people[slot.instructor_id][1],
            "instructor": people[slot.instructor_id][0],
            "burden": slot.burden,
            "fit": slot.fit,
            "fit_reasons": slot.reasons,
        }
        for slot in slots
    ]
