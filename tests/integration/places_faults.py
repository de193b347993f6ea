"""Every fault that the audit of places looks for, each written past the guards."""

from datetime import timedelta
from typing import Any

from django.db.models import F

from bookings.domain.vocabulary import Attendance, Ended, Kind, MeetingStatus, PlaceKind, Standing
from bookings.models import (
    Booking,
    Feed,
    Mark,
    Meeting,
    ProposedTimes,
    RegisterEntry,
    WaitingPlace,
)
from tests import cast
from tests.cast import NOW, at

NOON = at("2027-03-10T12:00Z")


def group(starts_at: Any = NOON, **fields: Any) -> Meeting:
    cast.make_policy() if not cast.StudioPolicy.objects.exists() else None
    number = Meeting.objects.count()
    offering = cast.make_offering(f"Studio class {number}", Kind.GROUP_MEETING, 50)
    ilse = fields.pop("instructor", None) or cast.make_instructor(f"Teacher {number}")
    return cast.make_meeting(offering, ilse, starts_at, **{"places": 4, **fields})


def counter_ahead() -> tuple[str, str, int]:
    meeting = group(taken=1)
    return "counters", "meeting", meeting.pk


def counter_behind() -> tuple[str, str, int]:
    booking = cast.make_booking(
        group(listener_places=2), cast.make_student(), place_kind=PlaceKind.LISTENER
    )
    Meeting.objects.update(listeners_taken=0)
    return "counters", "meeting", booking.meeting_id


def over_booked() -> tuple[str, str, int]:
    meeting = group(places=1)
    for name in ("Noor Ashgrove", "Marlo Vance"):
        cast.make_booking(meeting, cast.make_student(name))
    return "meeting_places", "meeting", meeting.pk


def instructor_twice() -> tuple[str, str, int]:
    first = group()
    later = group(
        first.held_until - timedelta(minutes=1), instructor=first.instructor
    )  # inside the changeover
    return "meeting_instructor_free", "meeting", later.pk


def student_twice() -> tuple[str, str, int]:
    noor = cast.make_student()
    cast.make_booking(group(), noor)
    return (
        "booking_student_free",
        "booking",
        cast.make_booking(group(NOON + timedelta(minutes=45)), noor).pk,
    )


def booked_twice() -> tuple[str, str, int]:
    meeting, noor = group(), cast.make_student()
    first = cast.make_booking(meeting, noor)
    cast.make_booking(meeting, noor)
    return "booking_once", "booking", first.pk


def lives_in_a_cancelled_meeting() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    Meeting.objects.update(status=MeetingStatus.CANCELLED)
    return "cancelled", "booking", booking.pk


def waits_for_a_cancelled_meeting() -> tuple[str, str, int]:
    waiting = WaitingPlace.objects.create(
        meeting=group(status=MeetingStatus.CANCELLED), student=cast.make_student(), joined_at=NOW
    )
    return "cancelled", "waiting place", waiting.pk


def another_time_than_its_meeting() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    Booking.objects.update(ends_at=F("ends_at") + timedelta(minutes=5))
    return "period", "booking", booking.pk


def offer_without_end() -> tuple[str, str, int]:
    return (
        "offer_says_answer_by",
        "booking",
        cast.make_booking(group(), cast.make_student(), standing=Standing.OFFERED).pk,
    )


def offer_past_the_start() -> tuple[str, str, int]:
    late = NOON + timedelta(minutes=1)
    return (
        "offer",
        "booking",
        cast.make_booking(
            group(), cast.make_student(), standing=Standing.OFFERED, answer_by=late
        ).pk,
    )


def offer_to_a_place_that_ended() -> tuple[str, str, int]:
    meeting, noor = group(), cast.make_student()
    waiting = WaitingPlace.objects.create(
        meeting=meeting, student=noor, joined_at=NOW, ended_at=NOW, ended_why=Ended.LEFT
    )
    offer = cast.make_booking(
        meeting,
        noor,
        standing=Standing.OFFERED,
        answer_by=NOON - timedelta(hours=5),
        waiting_place=waiting,
    )
    return "offer", "booking", offer.pk


def waits_for_what_they_hold() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    waiting = WaitingPlace.objects.create(
        meeting=booking.meeting, student=booking.student, joined_at=NOW
    )
    return "queue", "waiting place", waiting.pk


def joined_after_the_start() -> tuple[str, str, int]:
    late = NOON + timedelta(hours=1)
    return (
        "queue",
        "waiting place",
        WaitingPlace.objects.create(
            meeting=group(), student=cast.make_student(), joined_at=late
        ).pk,
    )


def ended_without_a_reason() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    Booking.objects.update(standing=Standing.ENDED)
    Meeting.objects.update(taken=0)
    return "booking_end_says_why", "booking", booking.pk


def lesson_without_a_student() -> tuple[str, str, int]:
    return (
        "empty",
        "meeting",
        cast.make_meeting(cast.make_offering(), cast.make_instructor(), NOON).pk,
    )


def lasts_for_days() -> tuple[str, str, int]:
    return "too-long", "meeting", group(held_until=NOON + timedelta(days=3)).pk


def feed_that_nothing_opens() -> tuple[str, str, int]:
    feed = Feed.objects.create(
        owner=cast.make_user(), label="Phone", secret_digest="short", revised_at=NOW, opened_at=NOW
    )
    return "feed", "feed", feed.pk


def _proposed_time(**fields: Any) -> Booking:
    noor = cast.make_student()
    meeting = group(status=MeetingStatus.TENTATIVE, is_proposed=True)
    proposal = ProposedTimes.objects.create(
        student=noor,
        offering=meeting.offering,
        instructor=meeting.instructor,
        made_at=NOW,
        answer_by=NOW + timedelta(hours=2),
        **fields,
    )
    return cast.make_booking(
        meeting,
        noor,
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(hours=2),
        proposed=proposal,
    )


def time_of_an_ended_proposal() -> tuple[str, str, int]:
    booking = _proposed_time(ended_at=NOW, ended_why=Ended.LAPSED)
    return "proposal", "booking", booking.pk


def held_for_no_proposal() -> tuple[str, str, int]:
    meeting = group(status=MeetingStatus.TENTATIVE, is_proposed=True)
    return "proposal", "meeting", meeting.pk


def taken_and_still_proposed() -> tuple[str, str, int]:
    booking = cast.make_booking(group(is_proposed=True), cast.make_student())
    return "proposal", "booking", booking.pk


def proposal_without_a_time() -> tuple[str, str, int]:
    booking = _proposed_time()
    Booking.objects.update(standing=Standing.ENDED, ended_at=NOW, ended_why=Ended.LAPSED)
    Meeting.objects.update(taken=0, status=MeetingStatus.CANCELLED)
    return "proposal", "proposed times", booking.proposed_id or 0


def marked_past_the_register() -> tuple[str, str, int]:
    booking = cast.make_booking(group(), cast.make_student())
    said = {"booking": booking, "attendance": Attendance.LATE}
    RegisterEntry.objects.create(**said, entered_at=NOW)
    Mark.objects.create(booking=booking, attendance=Attendance.PRESENT, marked_at=NOW)
    return "register", "booking", booking.pk


FAULTS = [
    counter_ahead,
    counter_behind,
    over_booked,
    instructor_twice,
    student_twice,
    booked_twice,
    lives_in_a_cancelled_meeting,
    waits_for_a_cancelled_meeting,
    another_time_than_its_meeting,
    offer_without_end,
    offer_past_the_start,
    offer_to_a_place_that_ended,
    waits_for_what_they_hold,
    joined_after_the_start,
    ended_without_a_reason,
    lesson_without_a_student,
    lasts_for_days,
    feed_that_nothing_opens,
    time_of_an_ended_proposal,
    held_for_no_proposal,
    taken_and_still_proposed,
    proposal_without_a_time,
    marked_past_the_register,
]
