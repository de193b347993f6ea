"""Hours that are cleared while somebody else acts on the same lessons, on PostgreSQL."""

from datetime import timedelta

import pytest

from accounts.models import Instructor
from bookings.domain.clearing import Decision
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.operations.booking import cancel_slot
from bookings.operations.days_away import clear_hours
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW
from tests.integration.cleared import COVER, SEVEN, STRETCH, clear
from tests.school.covering import CoveringSchool
from tests.threads import together

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]
BEFORE = SEVEN - timedelta(days=3)


def codes(raised: list[BaseException]) -> list[str]:
    """What was refused; anything but a refusal by its own words."""
    return [error.code if isinstance(error, Refused) else repr(error) for error in raised]


@pytest.mark.parametrize("attempt", range(3))
def test_two_people_clear_the_same_day(attempt: int) -> None:
    """One of them does, the other is told to read again, and each family gets one email."""
    school = CoveringSchool()
    lessons = [school.book(school.noor, 13), school.book(school.posy, 14)]
    raised = together(lambda: clear(school, *lessons), lambda: clear(school, *lessons))
    assert codes(raised) == ["stale"]
    assert OutboxMessage.objects.filter(recipient=school.hedda, made_at=SEVEN).count() == 1
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", range(3))
def test_a_day_is_cleared_while_a_family_cancels(attempt: int) -> None:
    """The cancellation comes first and the day is read again, or it finds the lesson ended."""
    school = CoveringSchool()
    lessons = [school.book(school.noor, 13), school.book(school.posy, 14)]
    actor = school.noor.user
    raised = together(
        lambda: clear(school, *lessons, now=BEFORE),
        lambda: write(lambda: cancel_slot(actor=actor, booking=lessons[0], now=BEFORE), now=BEFORE),
    )
    why = Booking.objects.get(pk=lessons[0].pk).ended_why
    expected = {"called-off": ["already-ended"], "cancelled-in-time": ["stale"]}
    assert codes(raised) == expected[why]
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", range(3))
def test_a_substitute_is_booked_at_the_moment_of_the_cover(attempt: int) -> None:
    """Wren has one of the two lessons, never both."""
    school = CoveringSchool()
    lesson = school.book(school.noor, 13)
    marlo = cast.make_student("Marlo Vance")
    raised = together(
        lambda: clear(school, Decision(lesson.meeting_id, COVER, school.wren.pk), now=NOW),
        lambda: school.book(marlo, 13, school.wren),
    )
    taught = Meeting.objects.filter(instructor=school.wren).exclude(status="CANCELLED")
    assert taught.count() == 1
    is_covered = taught.get().pk == lesson.meeting_id
    assert codes(raised) == (["taken"] if is_covered else ["plan-outdated"])
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", range(3))
def test_two_instructors_name_each_other_as_substitute(attempt: int) -> None:
    """Locks are taken in one order: nobody waits for ever, and neither teaches two at once."""
    school = CoveringSchool()
    first, second = school.book(school.noor, 13), school.book(school.posy, 14, school.wren)

    def swap(lesson: Booking, away: Instructor, to: Instructor) -> None:
        decision = Decision(lesson.meeting_id, COVER, to.pk)
        write(
            lambda: clear_hours(
                actor=school.admin,
                instructor=away,
                stretch=STRETCH,
                decisions=[decision],
                now=NOW,
            ),
            now=NOW,
        )

    raised = together(
        lambda: swap(first, school.ilse, school.wren),
        lambda: swap(second, school.wren, school.ilse),
    )
    assert codes(raised) in ([], ["stale"])
    assert list(findings()) == []
