"""Meetings and bookings as the API says them; join addresses only to those booked, their instructor and admins."""

from collections.abc import Collection
from typing import Any

from drf_spectacular.utils import inline_serializer
from rest_framework import serializers

from accounts.models import User
from bookings import clock
from bookings.access import may_run, name_for
from bookings.api.fields import Wired, local, utc
from bookings.api.references import Named, OfferingNamed, shown_instructor, shown_offering
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import Attendance, Ended, MeetingStatus, PlaceKind, Standing
from bookings.models import Booking, Intake, Meeting
from bookings.queries.places import held_in


def paged(shape: type[serializers.Serializer]) -> serializers.Serializer:
    """The schema of one cursor page of `shape`."""
    return inline_serializer(
        shape.__name__.removesuffix("Shape") + "Page",
        {
            "next": serializers.URLField(allow_null=True),
            "previous": serializers.URLField(allow_null=True),
            "results": shape(many=True),
        },
    )


class MeetingTimes(serializers.Serializer):
    """When, in UTC, on the reader's clock and on the clock whose wall time is promised."""

    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    local_start = serializers.DateTimeField()
    time_zone = serializers.CharField()
    instructor_local_start = serializers.DateTimeField()
    instructor_time_zone = serializers.CharField()


class MeetingShape(MeetingTimes):
    """A meeting. `join_address` is empty for whoever is not booked."""

    id = serializers.IntegerField()
    offering = OfferingNamed()
    title = serializers.CharField()
    instructor = Named()
    status = serializers.ChoiceField(choices=[status.value for status in MeetingStatus])
    called_off_reason = serializers.CharField()
    places = serializers.IntegerField()
    taken = serializers.IntegerField()
    listener_places = serializers.IntegerField()
    listeners_taken = serializers.IntegerField()
    join_address = serializers.CharField()


class IntakeShape(serializers.Serializer):
    """What the student wrote before the meeting."""

    questions = serializers.ListField(child=serializers.CharField())
    pieces = serializers.CharField()
    recordings = serializers.ListField(child=serializers.CharField())
    obstacle = serializers.CharField()


class BookingShape(MeetingTimes, Wired):
    """A student's place in a meeting. Until `cancel_by` it can be cancelled without owing; an offer waits until `answer_by`."""

    wire = {"place_kind": "as"}
    id = serializers.IntegerField()
    meeting = serializers.IntegerField()
    offering = OfferingNamed()
    title = serializers.CharField()
    instructor = Named()
    student = Named()
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])
    place_kind = serializers.ChoiceField(choices=[kind.value for kind in PlaceKind])
    status = serializers.ChoiceField(choices=[status.value for status in MeetingStatus])
    cancel_by = serializers.DateTimeField()
    answer_by = serializers.DateTimeField(allow_null=True)
    booked_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField(allow_null=True)
    ended_reason = serializers.ChoiceField(choices=["", *(why.value for why in Ended)])
    called_off_reason = serializers.CharField()
    join_address = serializers.CharField()
    attendance = serializers.ChoiceField(
        choices=[attendance.value for attendance in Attendance], allow_null=True
    )
    intake = IntakeShape(allow_null=True)


BOOKING_PAGE = paged(BookingShape)


def shown_times(meeting: Meeting, time_zone: str) -> dict[str, Any]:
    return {
        "starts_at": utc(meeting.starts_at),
        "ends_at": utc(meeting.ends_at),
        "local_start": local(meeting.starts_at, time_zone),
        "time_zone": time_zone,
        "instructor_local_start": local(meeting.starts_at, meeting.zone),
        "instructor_time_zone": meeting.zone,
    }


def shown_meetings(meetings: Collection[Meeting], user: User) -> list[dict[str, Any]]:
    """Meetings for this reader. Needs `offering` and `instructor__user`; asks once in which of them they or their child is held."""
    held = held_in(meetings, user, now=clock.now())
    return [
        {
            "id": meeting.pk,
            **_shown_common(meeting),
            **shown_times(meeting, user.zone),
            "places": meeting.places,
            "taken": meeting.taken,
            "listener_places": meeting.listener_places,
            "listeners_taken": meeting.listeners_taken,
            "join_address": _join_address(meeting, user, held=meeting.pk in held),
        }
        for meeting in meetings
    ]


def shown_booking(booking: Booking, user: User) -> dict[str, Any]:
    """A booking for its family, its instructor or an admin. Needs meeting, offering, instructor, student and policy joined."""
    meeting = booking.meeting
    intake, mark = getattr(booking, "intake", None), getattr(booking, "mark", None)
    return {
        "id": booking.pk,
        "meeting": meeting.pk,
        **_shown_common(meeting),
        **shown_times(meeting, user.zone),
        "student": {"id": booking.student_id, "name": called(booking, user)},
        "standing": booking.standing,
        "as": booking.place_kind,
        "cancel_by": utc(cancel_by(booking.policy.rules(), booking.starts_at)),
        "answer_by": utc(booking.answer_by),
        "booked_at": utc(booking.booked_at),
        "ended_at": utc(booking.ended_at),
        "ended_reason": booking.ended_why,
        "join_address": _join_address(meeting, user, held=booking.standing == Standing.HELD),
        "attendance": mark.attendance if mark else None,
        "intake": shown_intake(intake),
    }


def called(booking: Booking, user: User) -> str:
    """The family and admins see the whole name; to the instructor a minor goes by her first."""
    taught = booking.meeting.instructor.user_id == user.pk
    return name_for(user, booking.student, clock.now()) if taught else booking.student.full_name


def shown_intake(intake: Intake | None) -> dict[str, Any] | None:
    if intake is None:
        return None
    return {
        "questions": intake.questions,
        "pieces": intake.pieces,
        "recordings": intake.recordings,
        "obstacle": intake.obstacle,
    }


def _shown_common(meeting: Meeting) -> dict[str, Any]:
    return {
        "offering": shown_offering(meeting.offering),
        "title": meeting.title,
        "instructor": shown_instructor(meeting.instructor),
        "status": meeting.status,
        "called_off_reason": meeting.called_off_why,
    }


def _join_address(meeting: Meeting, user: User, *, held: bool) -> str:
    return (
        meeting.join_address
        if (held or may_run(user, meeting)) and not meeting.is_cancelled
        else ""
    )
