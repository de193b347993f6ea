"""The intake in the tables: what hurts is erased in time, and goes where the place goes."""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking, Intake
from bookings.operations.intakes import forget_hurts
from bookings.operations.places import move_place
from tests.cast import NOW, make_booking, make_instructor, make_meeting, make_offering, make_student

pytestmark = pytest.mark.django_db
DAYS = 90


def place(instructor=None, starts_at=NOW + timedelta(days=4)) -> Booking:
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 60)
    meeting = make_meeting(offering, instructor or make_instructor(), starts_at, places=3)
    return make_booking(meeting, make_student())


def says(booking: Booking) -> Intake:
    intake = Intake(booking=booking, pieces="Study 4", written_at=NOW)
    intake.hurts = "The left wrist."
    intake.save()
    return intake


def test_what_hurts_is_erased_ninety_days_after_the_meeting() -> None:
    """Not a second sooner; the rest of the intake stays (TRADE.md 4: intake health 90 days)."""
    intake = says(place())
    due = intake.booking.ends_at + timedelta(days=DAYS)
    for now, hurts in ((due - timedelta(seconds=1), "The left wrist."), (due, "")):
        write(lambda now=now: forget_hurts(now=now), now=now)
        intake.refresh_from_db()
        assert (intake.hurts, intake.pieces) == (hurts, "Study 4")


def test_a_school_may_erase_it_sooner(settings) -> None:
    """INTAKE_HEALTH_DAYS counts from the end of the meeting."""
    settings.INTAKE_HEALTH_DAYS = 0
    intake = says(place())
    forget_hurts(now=intake.booking.ends_at)
    intake.refresh_from_db()
    assert intake.hurts == ""


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
