"""Busy calendars as they are sent and shown."""

from rest_framework import serializers

from bookings.api.booking_serializers import BookingOutput
from bookings.api.fields import AskedId, FileText, Id, Line, Strict
from bookings.api.meeting_serializers import MeetingOutput
from bookings.api.output import Output, Utc
from bookings.api.variants import EitherForm
from bookings.inbound.addresses import LONGEST


class PersonAsked(Strict):
    """The student or instructor whose calendars are meant; without either, the reader.

    An admin who names an instructor reads the clashes and not the calendars.
    """

    student = AskedId(required=False)
    instructor = AskedId(required=False)


class CalendarAddress(Line):
    """Where a calendar is fetched; webcal is https."""

    allowed = "^(https|webcal)://[!-~]+$"


class BusyAddressForm(Strict):
    """A calendar at an address, which is fetched from now on. A guardian names the child."""

    name = Line(max_length=60)
    address = CalendarAddress(max_length=LONGEST)
    student = Id(required=False)


class BusyFileForm(Strict):
    """The text of a calendar file, read once. A guardian names the child."""

    name = Line(max_length=60)
    calendar = FileText(trim_whitespace=False)
    student = Id(required=False)


ADDED = EitherForm("BusyForm", "calendar", BusyFileForm, BusyAddressForm)


class BusyChange(Strict):
    """Another name."""

    name = Line(max_length=60)


class BusyCalendarOutput(Output):
    """A busy calendar. `host` is empty for a file.

    `fetched_at` is when the last good copy was fetched. The copy stays in use while there is a
    `problem`.
    """

    id = serializers.IntegerField()
    name = serializers.CharField()
    host = serializers.CharField()
    added_at = Utc()
    fetched_at = Utc(allow_null=True)
    tried_at = Utc(allow_null=True)
    next_at = Utc(allow_null=True)
    covers_until = Utc(allow_null=True)
    unknown_zones = serializers.IntegerField()
    notes = serializers.ListField(child=serializers.CharField())
    problem = serializers.CharField()
    problem_detail = serializers.CharField(source="problem_words")


class BusyList(serializers.Serializer):
    """The calendars, and what is booked in times that they call busy.

    For an instructor these are meetings, for a student bookings.
    """

    results = BusyCalendarOutput(many=True)
    clashing_meetings = MeetingOutput(many=True)
    clashing_bookings = BookingOutput(many=True)
