"""Proposed times that two people want at one instant, on PostgreSQL."""

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking
from bookings.operations.booking import cancel_slot
from bookings.operations.proposed_times import lapse_proposals
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW, at
from tests.school.proposals import STARTS, ProposingSchool
from tests.threads import together

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def codes(raised: list[BaseException]) -> list[str]:
    """What was refused; anything but a refusal by its own words."""
    return [error.code if isinstance(error, Refused) else repr(error) for error in raised]


@pytest.mark.parametrize("attempt", range(3))
def test_two_guardians_take_two_times(attempt: int) -> None:
    """One of them has a lesson, and the other is told that the times have been answered."""
    school = ProposingSchool()
    proposal = school.propose()
    raised = together(lambda: school.take(proposal, 0), lambda: school.take(proposal, 1))
    assert codes(raised) == ["offer-ended"]
    assert Booking.objects.held().filter(proposed=proposal).count() == 1
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", range(3))
def test_an_answer_meets_the_end_of_its_time(attempt: int) -> None:
    """Either the time is taken, or all of them have lapsed."""
    school = ProposingSchool()
    proposal = school.propose()
    raised = together(
        lambda: school.take(proposal, now=NOW),
        lambda: write(lambda: lapse_proposals(now=proposal.answer_by), now=proposal.answer_by),
    )
    held = Booking.objects.held().filter(proposed=proposal).count()
    assert codes(raised) == ([] if held else ["offer-ended"])
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", range(3))
def test_a_booking_wants_a_time_that_is_being_proposed(attempt: int) -> None:
    """The instructor's hour goes to one of the two."""
    school = ProposingSchool()
    marlo = cast.make_student("Marlo Finch")
    raised = together(
        lambda: school.propose(STARTS[:1]), lambda: school.book(STARTS[0], student=marlo)
    )
    assert codes(raised) == ["taken"]
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", range(3))
def test_a_time_is_taken_for_a_lesson_that_is_being_cancelled(attempt: int) -> None:
    """The lesson moves and is then cancelled, or the cancellation ends the proposal."""
    school = ProposingSchool()
    lesson = school.book(at("2027-03-15T17:30Z"))
    proposal = school.propose_instead(school.ask(lesson, at("2027-03-16T10:00Z")))
    raised = together(
        lambda: school.take(proposal),
        lambda: write(
            lambda: cancel_slot(actor=school.noor.user, booking=lesson, now=NOW), now=NOW
        ),
    )
    assert codes(raised) in ([], ["offer-ended"])
    assert not Booking.objects.held().filter(pk=lesson.pk).exists()
    assert list(findings()) == []
