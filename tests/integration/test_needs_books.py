"""Needs you now: registers, owed lessons and statements, while they need an admin."""

from datetime import date, timedelta

import pytest

from bookings.domain.needs import Need
from bookings.domain.vocabulary import Attendance, OwedClosed
from bookings.models import Meeting, OwedLesson
from tests import cast
from tests.cast import NOW
from tests.school.desk import Desk, all_needed
from tests.school.owed import owed_from_before
from tests.school.statements import OVER, February
from tests.school.weekly import weekly_place

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


@pytest.fixture
def desk() -> Desk:
    return Desk()


def test_a_register_that_is_open_a_day_after_the_meeting(desk: Desk) -> None:
    """Before, the instructor is asked about it. A meeting without anybody has no register."""
    begun = NOW - timedelta(hours=24, minutes=25)
    booking = cast.taught(desk.ilse, desk.noor, desk.lesson, begun)
    cast.make_meeting(desk.group, desk.ilse, begun - 3 * HOUR)
    cast.taught(desk.ilse, desk.noor, desk.lesson, begun + HOUR)
    assert desk.the_one(Need.REGISTER) == (booking.meeting_id, "Noor Ashgrove")
    February.mark(desk, booking, Attendance.PRESENT, NOW)  # type: ignore[arg-type]
    assert desk.now(Need.REGISTER) is None


def test_an_owed_lesson_two_weeks_before_its_use_by_date(desk: Desk) -> None:
    """Neither earlier, nor once it is settled."""
    owed = owed_from_before(weekly_place(desk.ilse, desk.noor))
    assert desk.now(Need.OWED) is None
    OwedLesson.objects.update(use_by=date(2027, 3, 15))
    assert desk.the_one(Need.OWED) == (owed.pk, "Noor Ashgrove")
    OwedLesson.objects.update(closed_at=NOW, closed_how=OwedClosed.BY_HAND)
    assert desk.now(Need.OWED) is None


def test_a_statement_that_differs_from_the_register() -> None:
    """A correction of the register shows it, a correction of the statement settles it; a change
    that says the same again shows nothing.
    """
    school = February()
    booking, _ = school.taught_on(2), school.taught_on(3)
    statement = school.issue()
    later = OVER + timedelta(days=2)

    def found() -> list[int]:
        return [row.id for row in all_needed(school.dag, Need.STATEMENT, later)]

    assert found() == []
    school.mark(booking, Attendance.LATE, later)
    assert found() == []
    school.mark(booking, Attendance.ABSENT_WITH_NOTICE, later)
    assert found() == [statement.pk]
    school.correct(statement, later)
    assert found() == []


def test_a_statement_differs_from_a_lesson_that_went_elsewhere() -> None:
    """A lesson that another instructor is said to have taught since leaves its statement."""
    school = February()
    booking = school.taught_on(2)
    statement = school.issue()
    wren = cast.make_instructor("Wren Halloway")
    Meeting.objects.filter(pk=booking.meeting_id).update(instructor=wren, changed_at=OVER + HOUR)
    rows = all_needed(school.dag, Need.STATEMENT, OVER + 2 * HOUR)
    assert [(row.id, row.name) for row in rows] == [(statement.pk, "Ilse Quarrow")]
