"""Meetings and bookings; join addresses only to those booked, their instructor and admins."""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from rest_framework import serializers

from accounts.models import User
from bookings import clock
from bookings.access import may_run, name_for
from bookings.api.fields import local
from bookings.api.output import Local, Output, Utc, paged
from bookings.api.references import Known, Named, OfferingNamed, an_instructor
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import Attendance, Ended, MeetingStatus, PlaceKind, Standing
from bookings.models import Booking, Intake, Meeting
from bookings.queries.places import held_in


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
        return _join_address(meeting, self.reader, is_held=is_held)


class IntakeOutput(Output):
    """What the student wrote before the meeting."""

    questions = serializers.ListField(child=serializers.CharField())
    pieces = serializers.CharField()
    recordings = serializers.ListField(child=serializers.CharField())
    obstacle = serializers.CharField()


class BookingOutput(MeetingTimes):
    """A student's place in a meeting. Until `cancel_by` it can be cancelled free of charge; an
    offer waits until `answer_by`."""

    wire = {"place_kind": "as"}
    id = serializers.IntegerField()
    meeting = serializers.IntegerField(source="meeting_id")
    offering = OfferingNamed(source="meeting.offering")
    title = serializers.CharField(source="meeting.title")
    instructor = an_instructor(source="meeting.instructor")
    instructor_time_zone = serializers.CharField(source="meeting.zone")
    student = Named()
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])
    place_kind = serializers.ChoiceField(choices=[kind.value for kind in PlaceKind])
    status = serializers.ChoiceField(
        choices=[status.value for status in MeetingStatus], source="meeting.status"
    )
    cancel_by = Utc()
    answer_by = Utc(allow_null=True)
    booked_at = Utc()
    ended_at = Utc(allow_null=True)
    ended_reason = serializers.ChoiceField(
        choices=["", *(why.value for why in Ended)], source="ended_why"
    )
    called_off_reason = serializers.CharField(source="meeting.called_off_why")
    join_address = serializers.CharField()
    attendance = serializers.ChoiceField(
        choices=[attendance.value for attendance in Attendance], allow_null=True
    )
    intake = IntakeOutput(allow_null=True)

    def get_instructor_local_start(self, booking: Booking) -> str:
        return local(booking.starts_at, booking.meeting.zone)

    def get_student(self, booking: Booking) -> Known:
        return Known(booking.student_id, student_name(booking, self.reader))

    def get_cancel_by(self, booking: Booking) -> datetime:
        return cancel_by(booking.policy.rules(), booking.starts_at)

    def get_join_address(self, booking: Booking) -> str:
        is_held = booking.standing == Standing.HELD
        return _join_address(booking.meeting, self.reader, is_held=is_held)

    def get_attendance(self, booking: Booking) -> str | None:
        mark = getattr(booking, "mark", None)
        return str(mark.attendance) if mark else None

    def get_intake(self, booking: Booking) -> Intake | None:
        return getattr(booking, "intake", None)


BOOKING_PAGE = paged(BookingOutput)


def shown_meetings(meetings: Collection[Meeting], user: User) -> list[dict[str, Any]]:
    """Meetings for this reader. Needs `offering` and `instructor__user`; asks once in which of them
    the reader or a child of theirs is held."""
    held = held_in(meetings, user, now=clock.now())
    return MeetingOutput.of_all(meetings, reader=user, held_in=held)


def student_name(booking: Booking, user: User) -> str:
    """The family and admins see the whole name; to the instructor a minor goes by the first."""
    taught = booking.meeting.instructor.user_id == user.pk
    return name_for(user, booking.student, clock.now()) if taught else booking.student.full_name


def _join_address(meeting: Meeting, user: User, *, is_held: bool) -> str:
    may_join = is_held or may_run(user, meeting)
    return meeting.join_address if may_join and not meeting.is_cancelled else ""
