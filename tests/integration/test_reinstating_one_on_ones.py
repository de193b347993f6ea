"""A one-on-one that was called off comes back, or stays away for a reason."""

from datetime import timedelta

import pytest
from django.db.models import F

from accounts.models import Guardianship
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Standing
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import Booking, Meeting
from bookings.operations.booking import IntakeText, cancel_slot
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.weekly import leave_weekly_place
from tests import cast
from tests.cast import at
from tests.integration.called_off import (
    LATER,
    OFF,
    back,
    consultation,
    group,
    off,
    refused,
    written_at,
)
from tests.school.weekly import weekly_place

__all__ = ["group"]
pytestmark = pytest.mark.django_db


def test_a_one_on_one_comes_back_with_what_its_student_wrote(group):
    """The same booking, so its intake and the policy it was made under are there."""
    noor = group.students[0]
    booking = consultation(
        group,
        noor,
        group.ilse,
        at("2027-03-16T17:00Z"),
        intake=IntakeText(questions=["Why does bar 12 buzz?"]),
    )
    off(group, meeting=booking.meeting)
    back(group, meeting=booking.meeting)
    current = Booking.objects.get(pk=booking.pk)
    assert (current.standing, current.intake.questions) == (
        Standing.HELD,
        ["Why does bar 12 buzz?"],
    )


def test_an_assessment_released_meanwhile_is_on_the_brief(group):
    """A booking ahead carries their latest one; releasing reaches only those that stand."""
    off(group)
    note = cast.make_assessment(group.students[0], group.wren, state="released", released_at=OFF)
    back(group)
    assert Booking.objects.get(pk=group.held[0].pk).assessment == note


def test_a_one_on_one_whose_student_cannot_come_stays_called_off(group):
    """Without them there is nobody to teach, so the whole is refused, with their reason."""
    noor = group.students[0]
    booking = consultation(group, noor, group.ilse, at("2027-03-16T17:00Z"))
    off(group, meeting=booking.meeting)
    consultation(group, noor, group.wren, at("2027-03-16T17:00Z"))
    assert "Noor cannot come" in refused("own-clash", group, booking.meeting).detail


def test_a_minors_one_on_one_without_consent_asks_their_guardian_for_it(group):
    """As at booking: nothing is held, and the guardian gets the request."""
    posy = cast.make_minor(time_zone="Europe/Dublin")
    booking = consultation(group, posy, group.ilse, at("2027-03-16T17:00Z"))
    off(group, meeting=booking.meeting)
    Guardianship.objects.update(consent_at=None, consent_wording="")
    with pytest.raises(Refused, match="consent-missing"):
        back(group, meeting=booking.meeting)
    assert Meeting.objects.get(pk=booking.meeting_id).status == "CANCELLED"
    assert [message.kind for message in written_at(LATER)] == ["consent"]


def test_a_one_on_one_that_its_student_cancelled_is_theirs_to_book_again(group):
    """Only what was called off as a whole comes back."""
    noor = group.students[0]
    booking = consultation(group, noor, group.ilse, at("2027-03-16T17:00Z"))
    group.do(cancel_slot, actor=noor.user, booking=booking)
    refused("already-ended", group, booking.meeting)


def test_what_takes_place_has_begun_or_has_no_teacher_does_not_come_back(group):
    """Each has its code, and none leaves a row behind."""
    refused("already-done", group)
    off(group)
    refused("past", group, now=group.meeting.starts_at)
    group.do(
        dismiss_instructor,
        actor=group.admin,
        instructor=group.ilse,
        call_off_why="They move on.",
        now=OFF,
    )
    refused("not-taught", group)


def test_a_lesson_of_a_weekly_place_that_was_left_since_does_not_come_back(group):
    """The family has given up that time."""
    noor = group.students[0]
    place = weekly_place(group.ilse, noor)
    lesson = Meeting.objects.get(weekly_place=place)
    off(group, meeting=lesson)
    group.do(leave_weekly_place, actor=noor.user, place=place, now=OFF)
    refused("already-ended", group, lesson)


def test_it_comes_back_at_the_wall_time_it_was_promised_for(group):
    """Called-off meetings are not retimed, so the instants are of old zone rules, here an hour off:
    what counts is 17:00 in Dublin.
    """
    off(group)
    early = {name: F(name) - timedelta(hours=1) for name in ("starts_at", "ends_at")}
    Booking.objects.update(**early)
    Meeting.objects.update(
        **early, held_until=F("held_until") - timedelta(hours=1), tzdata_version="2025b"
    )
    back(group)
    assert set(
        Booking.objects.filter(standing=Standing.HELD).values_list("starts_at", "ends_at")
    ) == {(group.meeting.starts_at, at("2027-03-14T18:00Z"))}
    assert Meeting.objects.values_list("starts_at", "tzdata_version").get() == (
        group.meeting.starts_at,
        TZDATA_VERSION,
    )
    assert all(
        "14 March 2027, 17:00–18:00, Dublin" in message.body for message in written_at(LATER)
    )
