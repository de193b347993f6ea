"""A one-on-one that has been booked is moved, cancelled and ended."""

import pytest

from bookings.domain.vocabulary import Ended, MeetingStatus, Standing
from bookings.door import write
from bookings.models import Meeting
from bookings.operations.booking import cancel_slot, move_slot
from tests import cast
from tests.cast import NOW, at
from tests.integration.nothing_written import refused, school

__all__ = ["school"]
pytestmark = pytest.mark.django_db


def test_a_move_keeps_the_uid_and_raises_the_sequence(school):
    """One entry in every calendar: same UID, higher SEQUENCE (RFC 5546 section 2.1.4); the old time
    is free again.
    """
    booking = school.book(at("2027-03-12T17:30Z"))
    uid = booking.meeting.uid
    moved = write(
        lambda: move_slot(
            actor=school.noor.user, booking=booking, starts_at=at("2027-03-16T10:00Z"), now=NOW
        ),
        now=NOW,
    )
    meeting = Meeting.objects.get()
    assert (meeting.uid, meeting.sequence, moved.starts_at, meeting.starts_at) == (
        uid,
        1,
        at("2027-03-16T10:00Z"),
        at("2027-03-16T10:00Z"),
    )
    assert school.book(at("2027-03-12T17:30Z"), student=cast.make_student("Marlo Vance")).is_live


def test_a_move_may_overlap_the_time_it_leaves(school):
    """The meeting being moved does not stand in its own way."""
    booking = school.book(at("2027-03-12T17:30Z"))
    moved = write(
        lambda: move_slot(
            actor=school.noor.user, booking=booking, starts_at=at("2027-03-12T18:00Z"), now=NOW
        ),
        now=NOW,
    )
    assert moved.starts_at == at("2027-03-12T18:00Z")


def test_a_move_to_another_instructor_takes_their_room_and_zone(school):
    """The wall time promised is then the new instructor's."""
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    cast.teaches(wren, school.consultation)
    cast.publish(wren, cast.EVERY_DAY)
    booking = school.book(at("2027-03-12T17:30Z"))
    write(
        lambda: move_slot(
            actor=school.noor.user,
            booking=booking,
            starts_at=at("2027-03-12T19:00Z"),
            instructor=wren,
            now=NOW,
        ),
        now=NOW,
    )
    meeting = Meeting.objects.get()
    assert (
        meeting.instructor,
        str(meeting.time_zone),
        meeting.wall_at.hour,
        meeting.join_address,
    ) == (
        wren,
        "America/New_York",
        14,
        wren.room,
    )


def test_after_the_notice_a_booking_is_cancelled_late_and_not_moved(school):
    """Notice is 24 elapsed hours, judged by the policy version the booking was made under (24 h is
    the notice most studios publish).
    """
    booking = school.book(at("2027-03-12T17:30Z"))
    late = at("2027-03-11T17:31Z")
    refused(
        "notice-passed",
        lambda: write(
            lambda: move_slot(
                actor=school.noor.user, booking=booking, starts_at=at("2027-03-16T10:00Z"), now=late
            ),
            now=late,
        ),
    )
    ended = write(lambda: cancel_slot(actor=school.noor.user, booking=booking, now=late), now=late)
    assert (ended.standing, ended.ended_why) == (Standing.ENDED, Ended.CANCELLED_LATE)
    assert Meeting.objects.get().status == MeetingStatus.CANCELLED


def test_a_newer_policy_does_not_change_the_notice_of_an_older_booking(school):
    """The version in force at booking rides with the booking."""
    booking = school.book(at("2027-03-12T17:30Z"))
    cast.make_policy(version=2, in_force_from=NOW, notice_minutes=7 * 24 * 60)
    ended = write(
        lambda: cancel_slot(actor=school.noor.user, booking=booking, now=at("2027-03-11T17:00Z")),
        now=at("2027-03-11T17:00Z"),
    )
    assert ended.ended_why == Ended.CANCELLED_IN_TIME


def test_a_stale_version_is_refused(school):
    """Who read an older state decides again."""
    booking = school.book(at("2027-03-12T17:30Z"))
    refused(
        "stale",
        lambda: write(
            lambda: cancel_slot(actor=school.noor.user, booking=booking, version=99, now=NOW),
            now=NOW,
        ),
    )


def test_an_ended_booking_ends_once(school):
    """Cancelling again is refused."""
    booking = school.book(at("2027-03-12T17:30Z"))
    write(lambda: cancel_slot(actor=school.noor.user, booking=booking, now=NOW), now=NOW)
    refused(
        "already-ended",
        lambda: write(
            lambda: cancel_slot(actor=school.noor.user, booking=booking, now=NOW), now=NOW
        ),
    )
