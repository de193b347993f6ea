"""An instructor's day, in the words of the page Today."""

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.fields import Strict
from bookings.api.meeting_serializers import MeetingOutput
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, local
from bookings.api.references import Known, Named, student_known
from bookings.api.time_fields import Day
from bookings.api.views import ApiView, asked, me
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import Attendance, PlaceKind, Standing
from bookings.domain.zones import zone
from bookings.models import Booking, Meeting
from bookings.queries.to_do import Waits
from bookings.queries.today import Today, today_of


class TodayAsked(Strict):
    """A date on the clock of the instructor's account; today unless given."""

    on = Day(required=False)


class PlaceOfDay(Output):
    """A student's place in a meeting of the day, held or offered.

    `attendance` is what the register says, null while it says nothing.
    """

    wire = {"place_kind": "as"}
    booking = serializers.IntegerField(source="pk")
    student = Named()
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])
    place_kind = serializers.ChoiceField(choices=[kind.value for kind in PlaceKind])
    attendance = serializers.ChoiceField(
        choices=[attendance.value for attendance in Attendance], allow_null=True
    )
    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    student_time_zone = serializers.CharField(source="student.zone")
    student_local_start = serializers.DateTimeField()

    def get_student(self, booking: Booking) -> Known:
        return student_known(booking.student, booking.meeting.instructor, self.reader)

    def get_attendance(self, booking: Booking) -> str | None:
        return booking.mark.attendance if hasattr(booking, "mark") else None

    def get_student_local_start(self, booking: Booking) -> str:
        return local(booking.starts_at, booking.student.zone)


class MeetingOfDay(MeetingOutput):
    """A meeting that touches the day, who is in it, and what is new, in sentences.

    `is_to_wrap_up`: it is over, and a mark in the register or a consultation's note is missing.
    """

    people = PlaceOfDay(many=True, source="live")
    news = serializers.ListField(child=serializers.CharField())
    is_to_wrap_up = serializers.BooleanField()

    def get_news(self, meeting: Meeting) -> list[str]:
        news: list[str] = self.context["news"][meeting.pk]
        return news


class ToDoOutput(Output):
    """So many of one kind wait for the instructor.

    `first_at` is the start of the earliest lesson or meeting, or when the earliest draft was
    written or the earliest request was made.
    """

    what = serializers.ChoiceField(choices=[what.value for what in Waits])
    count = serializers.IntegerField()
    first_at = Utc()


class TodayOutput(Output):
    """One date on the clock of the instructor's account, from midnight to midnight.

    A meeting across midnight belongs to both days. What waits does not depend on the date.
    """

    on = serializers.DateField()
    time_zone = serializers.CharField()
    starts_at = Utc(source="period.starts_at")
    ends_at = Utc(source="period.ends_at")
    entries = MeetingOfDay(many=True)
    waiting = ToDoOutput(many=True, source="to_do")
    reviews_due = serializers.IntegerField()

    def get_entries(self, found: Today) -> list[Meeting]:
        return [entry.meeting for entry in found.entries]


class InstructorDay(ApiView):
    """The day of the instructor who asks."""

    queries = {"GET"}

    @operation(
        "today", scope=PEOPLE, parameters=[TodayAsked], refused=(403,), responses=TodayOutput
    )
    def get(self, request: Request) -> Response:
        wanted, user, now = asked(request, TodayAsked), me(request), clock.now()
        instructor = access.require_instructor(user)
        on = wanted.get("on") or now.astimezone(zone(user.zone)).date()
        found = today_of(instructor, on, now=now)
        # They teach all of these, so they need no place in one to be told its room.
        news = {entry.meeting.pk: entry.news for entry in found.entries}
        return Response(TodayOutput.of(found, reader=user, held_in=(), news=news))
