"""Slots: starts that can be booked now."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from rest_framework import serializers

from accounts.models import Instructor
from bookings.api.output import Local, Output, Utc, local
from bookings.api.references import an_instructor
from bookings.domain.slots import Slot, dated
from bookings.queries.teaching import zone_of_hours


class SlotOutput(Output):
    """A start that can be booked now, on the reader's clock and on the instructor's.

    `burden` (0-20) is what its hour costs the student, by the family's own words where they have
    said any; `fit` (0-100) is how well it suits the student and the instructor's day, with its
    `fit_reasons` in words. Instructors and admins also
    read there whether it costs the instructor's day a lesson.
    """

    starts_at = Utc()
    ends_at = Utc()
    local_start = Local(source="starts_at")
    time_zone = serializers.CharField()
    instructor_local_start = serializers.DateTimeField()
    instructor_time_zone = serializers.CharField()
    instructor = an_instructor()
    burden = serializers.IntegerField()
    fit = serializers.IntegerField()
    fit_reasons = serializers.ListField(child=serializers.CharField(), source="reasons")

    def get_time_zone(self, slot: Slot) -> str:
        return self.reader_zone

    def get_instructor_local_start(self, slot: Slot) -> str:
        return local(slot.starts_at, self.context["zones"][slot.instructor_id])

    def get_instructor_time_zone(self, slot: Slot) -> str:
        return str(self.context["zones"][slot.instructor_id])

    def get_instructor(self, slot: Slot) -> Instructor:
        instructor: Instructor = self.context["instructors"][slot.instructor_id]
        return instructor


def shown_slots(
    slots: Iterable[Slot], instructors: Mapping[int, Instructor], time_zone: str, *, now: datetime
) -> list[dict[str, Any]]:
    """Slots on the clock of `time_zone` and on their instructors'."""
    return SlotOutput.of_all(
        dated(slots, now, time_zone),
        time_zone=time_zone,
        instructors=instructors,
        zones={pk: zone_of_hours(person) for pk, person in instructors.items()},
    )
