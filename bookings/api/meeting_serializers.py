"""Meetings as they are sent and shown."""

from collections.abc import Collection
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from accounts.models import User
from bookings import access, clock
from bookings.access import may_run
from bookings.api.fields import AskedId, Id, Line, Strict, Whole
from bookings.api.output import Local, Output, Utc, local
from bookings.api.paging import PageAsked
from bookings.api.references import Known, Named, OfferingNamed, an_instructor
from bookings.api.time_fields import Instant, InstantOrDay, Zone
from bookings.domain.vocabulary import MeetingStatus
from bookings.models import Meeting
from bookings.notices import LeftOut
from bookings.queries.places import held_in

MOST_PLACES = 1000


class MeetingTimes(Output):
    """When, in UTC, on the reader's clock and on the clock whose wall time is promised."""

    starts_at = Utc()
    ends_at = Utc()
    local_start = Local(source="starts_at")
    time_zone = serializers.CharField()
    instructor_local_start = serializers.DateTimeField()
    instructor_time_zone = serializers.CharField(source="zone")

    def get_time_zone(self, row: Any) -> str:
        return self.reader_zone

    def get_instructor_local_start(self, row: Any) -> str:
        return local(row.starts_at, row.zone)


class MeetingOutput(MeetingTimes):
    """A meeting. `join_address` is empty for whoever is not booked."""

    id = serializers.IntegerField()
    offering = OfferingNamed()
    title = serializers.CharField()
    instructor = an_instructor()
    status = serializers.ChoiceField(choices=[status.value for status in MeetingStatus])
    called_off_reason = serializers.CharField(source="called_off_why")
    places = serializers.IntegerField()
    taken = serializers.IntegerField()
    listener_places = serializers.IntegerField()
    listeners_taken = serializers.IntegerField()
    join_address = serializers.CharField()

    def get_join_address(self, meeting: Meeting) -> str:
        is_held = meeting.pk in self.context["held_in"]
        return join_address_for(meeting, self.reader, is_held=is_held)


class LeftOutOutput(Output):
    """A student whose place does not come back: `own-clash` where they have another meeting by now.

    `consent-missing` for a minor; `already-ended` where they have left the school.
    """

    student = Named()
    code = serializers.ChoiceField(choices=["own-clash", "consent-missing", "already-ended"])

    def get_student(self, row: LeftOut) -> Known:
        student = row.booking.student
        return Known(student.pk, access.name_for(self.reader, student, clock.now()))


class ReinstatedOutput(MeetingOutput):
    """The reinstated meeting, and who was in it and is not any more."""

    left_out = LeftOutOutput(many=True)


def shown_meetings(meetings: Collection[Meeting], user: User) -> list[dict[str, Any]]:
    """Meetings as this reader sees them. Needs `offering` and `instructor__user` joined.

    One query finds in which of them the reader or a child of theirs is held.
    """
    held = held_in(meetings, user, now=clock.now())
    return MeetingOutput.of_all(meetings, reader=user, held_in=held)


def join_address_for(meeting: Meeting, user: User, *, is_held: bool) -> str:
    """The join address for those booked, their instructor and admins; empty for others."""
    may_join = is_held or may_run(user, meeting)
    return meeting.join_address if may_join and not meeting.is_cancelled else ""


class RoomAddress(Line):
    """Where a meeting is held: an address on the web."""

    allowed = r"^(https://[^\s\u0000-\u001f\u007f-\u009f\ufeff]+)?$"
    default_error_messages = {"address": "Send an address that begins with https://."}

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=300, **options)

    def to_internal_value(self, data: Any) -> str:
        address = super().to_internal_value(data)
        if address and not (
            address.startswith("https://") and " " not in address and len(address) > len("https://")
        ):
            self.fail("address")
        return address


class MeetingForm(Strict):
    """A group meeting or masterclass.

    An admin names the instructor. An instructor makes their own.
    """

    offering = Id()
    instructor = Id(required=False)
    starts_at = Instant(wall=True)
    time_zone = Zone(required=False)
    title = Line(max_length=120)
    places = Whole(min_value=1, max_value=MOST_PLACES)
    listener_places = Whole(min_value=0, max_value=MOST_PLACES, required=False, default=0)
    join_address = RoomAddress(required=False, allow_blank=True, default="")


class MeetingChange(Strict):
    """What changes; what is left out stays."""

    starts_at = Instant(wall=True, required=False)
    time_zone = Zone(required=False)
    title = Line(max_length=120, required=False)
    places = Whole(min_value=1, max_value=MOST_PLACES, required=False)
    listener_places = Whole(min_value=0, max_value=MOST_PLACES, required=False)
    join_address = RoomAddress(required=False, allow_blank=True)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "time_zone" in attrs and "starts_at" not in attrs:
            raise ValidationError({"time_zone": ["This says how to read starts_at: send both."]})
        return attrs


class MeetingsAsked(PageAsked):
    """Filters: meetings that start in [from, to), of one offering, of one instructor."""

    wire = {"since": "from", "until": "to"}
    since = InstantOrDay(required=False)
    until = InstantOrDay(required=False)
    offering = AskedId(required=False)
    instructor = AskedId(required=False)


class ReasonForm(Strict):
    """A sentence that everybody booked is told."""

    reason = Line(max_length=200)
