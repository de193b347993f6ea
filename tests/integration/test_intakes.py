"""The intake in the tables: what hurts is erased in time, and goes where the place goes."""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking, Intake
from bookings.operations.places import move_place
from tests.cast import NOW, make_booking, make_instructor, make_meeting, make_offering, make_student

pytestmark = pytest.mark.django_db


def place(instructor=None, starts_at=NOW + timedelta(days=4)) -> Booking:
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 60)
    meeting = make_meeting(offering, instructor or make_instructor(), starts_at, places=3)
    return make_booking(meeting, make_student())


def says(booking: Booking) -> Intake:
    intake = Intake(booking=booking, pieces="Study 4", written_at=NOW)
    intake.hurts = "The left wrist."
    intake.save()
    return intake


def test_it_moves_with_the_place_to_another_instructor_s_meeting() -> None:
    """The old place keeps nothing; the text opens under its new booking."""
    old = place()
    says(old)
    other = make_meeting(
        old.meeting.offering, make_instructor("Wren Halloway"), NOW + timedelta(days=5), places=3
    )
    new = write(
        lambda: move_place(actor=old.student.user, booking=old, meeting=other, now=NOW), now=NOW
    )
    intake = Intake.objects.get()
    assert (intake.booking, intake.hurts, intake.pieces) == (new, "The left wrist.", "Study 4")
