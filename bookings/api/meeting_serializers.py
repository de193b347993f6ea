"""Meetings as they are sent and shown."""

from collections.abc import Collection
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from accounts.models import User
from bookings import access, clock
from bookings.access import may_run
from bookings.api.fields import AskedId, Id, Line, Strict, TrueOrFalse, Whole
from bookings.api.output import Local, Output, Utc, local
from bookings.api.paging import ByStartAsked
from bookings.api.references import Known, Named, OfferingNamed, an_instructor
from bookings.api.time_fields import Instant, Zone
from bookings.domain.minimums import Minimum
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
    """A meeting. `join_address` is empty for whoever is not booked.

    One with a `minimum` of players is TENTATIVE until it is decided: at `decide_by`, or before it
    by an admin. The levels are those of the players of a group meeting; listeners are of any level.
    Where `players_are_chosen`, families apply on the waiting list of players until
    `choice_closed_at`.
    """

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
    minimum = serializers.IntegerField(allow_null=True)
    decide_by = Utc(allow_null=True)
    lowest_level = serializers.IntegerField()
    highest_level = serializers.IntegerField()
    players_are_chosen = serializers.BooleanField()
    choice_closed_at = Utc(allow_null=True)
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


class MinimumForm(Strict):
    """How many players have to hold a place at `decide_by`, so that the meeting is not called
    off."""

    minimum = Whole(min_value=1, max_value=MOST_PLACES)
    decide_by = Instant()


class MeetingForm(Strict):
    """A group meeting or masterclass.

    An admin names the instructor. An instructor makes their own. The levels are those of players,
    1-10, both ends included; left out, those to which the instructor teaches the offering.
    `minimum` and `decide_by` come together.
    """

    offering = Id()
    instructor = Id(required=False)
    starts_at = Instant(wall=True)
    time_zone = Zone(required=False)
    title = Line(max_length=120)
    places = Whole(min_value=1, max_value=MOST_PLACES)
    listener_places = Whole(min_value=0, max_value=MOST_PLACES, required=False, default=0)
    join_address = RoomAddress(required=False, allow_blank=True, default="")
    lowest_level = Whole(min_value=1, max_value=10, required=False)
    highest_level = Whole(min_value=1, max_value=10, required=False)
    players_are_chosen = TrueOrFalse(required=False, default=False)
    minimum = Whole(min_value=1, max_value=MOST_PLACES, required=False)
    decide_by = Instant(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        given = {"minimum", "decide_by"} & set(attrs)
        if len(given) == 1:
            raise ValidationError({given.pop(): ["Send minimum and decide_by together."]})
        return attrs


def take_minimum(sent: dict[str, Any]) -> Minimum | None:
    """The minimum to run out of a MeetingForm that was sent; None where it has none."""
    players, decide_by = sent.pop("minimum", None), sent.pop("decide_by", None)
    return Minimum(players, decide_by) if players is not None else None


class MeetingChange(Strict):
    """What changes; what is left out stays."""

    starts_at = Instant(wall=True, required=False)
    time_zone = Zone(required=False)
    title = Line(max_length=120, required=False)
    places = Whole(min_value=1, max_value=MOST_PLACES, required=False)
    listener_places = Whole(min_value=0, max_value=MOST_PLACES, required=False)
    join_address = RoomAddress(required=False, allow_blank=True)
    lowest_level = Whole(min_value=1, max_value=10, required=False)
    highest_level = Whole(min_value=1, max_value=10, required=False)
    players_are_chosen = TrueOrFalse(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "time_zone" in attrs and "starts_at" not in attrs:
            raise ValidationError({"time_zone": ["This says how to read starts_at: send both."]})
        return attrs


class MeetingsAsked(ByStartAsked):
    """Meetings that start in [from, to), of one offering, of one instructor."""

    narrows = {**ByStartAsked.narrows, "offering": "offering", "instructor": "instructor"}
    offering = AskedId(required=False)
    instructor = AskedId(required=False)


class ReasonForm(Strict):
    """A sentence that everybody booked is told."""

    reason = Line(max_length=200)
