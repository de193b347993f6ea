"""Bookings as they are sent and shown."""

from datetime import datetime

from rest_framework import serializers

from bookings.access import is_program
from bookings.api.fields import AskedId, Id, Line, Strict, Text, Whole
from bookings.api.meeting_serializers import MeetingTimes, join_address_for
from bookings.api.output import Output, Utc, local, paged
from bookings.api.paging import ByStartAsked
from bookings.api.references import Known, Named, OfferingNamed, an_instructor, student_known
from bookings.api.time_fields import Instant, Zone
from bookings.api.variants import EitherForm
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import Attendance, Ended, MeetingStatus, PlaceKind, Standing
from bookings.models import Booking, Intake

MOST_MINUTES = 7 * 24 * 60


class IntakeOutput(Output):
    """What the student wrote before the meeting."""

    questions = serializers.ListField(child=serializers.CharField())
    pieces = serializers.CharField()
    recordings = serializers.ListField(child=serializers.CharField())
    obstacle = serializers.CharField()
    practised_minutes = serializers.IntegerField(allow_null=True)


class BookingOutput(MeetingTimes):
    """A student's place in a meeting. Until `cancel_by` it can be cancelled free of charge; an
    offer waits until `answer_by`. What the school booked can be declined until `decline_by`. By
    `leaves_by` the turn of a player in a masterclass has to be over. `makes_up` is the owed lesson
    that it settles. A service token is not shown the `intake`."""

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
    decline_by = Utc(allow_null=True)
    leaves_by = Utc(allow_null=True)
    makes_up = serializers.IntegerField(source="makes_up_id", allow_null=True)
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
        return student_known(booking.student, booking.meeting.instructor, self.reader)

    def get_cancel_by(self, booking: Booking) -> datetime:
        return cancel_by(booking.policy.rules(), booking.starts_at)

    def get_join_address(self, booking: Booking) -> str:
        is_held = booking.standing == Standing.HELD
        return join_address_for(booking.meeting, self.reader, is_held=is_held)

    def get_attendance(self, booking: Booking) -> str | None:
        mark = getattr(booking, "mark", None)
        return str(mark.attendance) if mark else None

    def get_intake(self, booking: Booking) -> Intake | None:
        return None if is_program(self.reader) else getattr(booking, "intake", None)


BOOKING_PAGE = paged(BookingOutput)


class IntakeForm(Strict):
    """What the student writes before: up to three questions, the most pressing first.

    `practised_minutes` are minutes a week. `hurts` is health data: only the student or a guardian
    writes it, they read it at this address, and the instructor reads it in the brief.
    """

    questions = serializers.ListField(child=Text(max_length=300), max_length=3, required=False)
    pieces = Text(max_length=500, required=False, allow_blank=True)
    recordings = serializers.ListField(child=Line(max_length=300), max_length=5, required=False)
    obstacle = Text(max_length=500, required=False, allow_blank=True)
    practised_minutes = Whole(min_value=0, max_value=MOST_MINUTES, required=False, allow_null=True)
    hurts = Text(max_length=500, required=False, allow_blank=True)


class SlotForm(Strict):
    """A one-on-one at a start; guardians, admins and the student's instructor name the student.

    `starts_at` carries its offset, or is a wall time of the `time_zone` named with it. It makes up
    the `owed_lesson`, if it names one.
    """

    offering = Id()
    instructor = Id()
    starts_at = Instant(wall=True)
    time_zone = Zone(required=False)
    intake = IntakeForm(required=False)
    student = Id(required=False)
    owed_lesson = Id(required=False)


class PlaceForm(Strict):
    """A place in a group meeting; guardians and admins name the student."""

    wire = {"place_kind": "as"}
    meeting = Id()
    place_kind = serializers.ChoiceField(
        choices=[kind.value for kind in PlaceKind], required=False, default=PlaceKind.PLAYER.value
    )
    student = Id(required=False)


BOOKING = EitherForm("BookingForm", "meeting", PlaceForm, SlotForm)


class BookingsAsked(ByStartAsked):
    """Bookings that start in [from, to), of one student, instructor, offering or meeting, in one
    standing.
    """

    narrows = {
        **ByStartAsked.narrows,
        "standing": "standing",
        "student": "student",
        "instructor": "meeting__instructor",
        "offering": "meeting__offering",
        "meeting": "meeting",
    }
    standing = serializers.ChoiceField(
        choices=[standing.value for standing in Standing], required=False
    )
    student = AskedId(required=False)
    instructor = AskedId(required=False)
    offering = AskedId(required=False)
    meeting = AskedId(required=False)
