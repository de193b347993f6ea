"""A weekly place taken in the term in which the one before ended with its instructor."""

from datetime import date

import pytest

from bookings.door import write
from bookings.models import OutboxMessage
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.weekly import take_weekly_place
from bookings.queries.accounts import account_in
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import at
from tests.school.owed import OwedSchool
from tests.school.weekly import TUESDAY

pytestmark = pytest.mark.django_db

NOW = at("2027-01-18T10:00Z")
"""The Monday after the first of the twelve lessons."""


@pytest.fixture
def school() -> OwedSchool:
    """Ilse has left; the eleven lessons ahead are owed."""
    school = OwedSchool()
    write(
        lambda: dismiss_instructor(
            actor=school.dag, instructor=school.ilse, call_off_why="Ilse leaves.", now=NOW
        ),
        now=NOW,
    )
    assert len(school.owed()) == 11
    return school


def take_with_wren(school: OwedSchool, offering=None, without=()) -> None:
    """Marlo takes the Tuesdays of a new instructor."""
    wren = cast.make_instructor("Wren Halloway", "Europe/Dublin")
    cast.teaches(wren, school.lesson, school.short)
    cast.publish(wren, "1 15:30-20:30")
    write(
        lambda: take_weekly_place(
            actor=school.marlo.user,
            student=school.marlo,
            instructor=wren,
            offering=offering or school.lesson,
            term=school.term,
            weekday=TUESDAY,
            wall_at=17 * 60,
            without=without,
            now=NOW,
        ),
        now=NOW,
    )


def test_the_new_place_gives_what_was_owed_for_the_old_one(school: OwedSchool) -> None:
    """Nothing is promised twice when a place changes hands."""
    take_with_wren(school)
    account = account_in(school.marlo, school.term, now=NOW).account
    assert (account.promised, account.adds_up, school.owed()) == (12, True, [])
    assert list(findings()) == []
    told = OutboxMessage.objects.filter(recipient=school.marlo.user, title__startswith="A weekly")
    assert (
        "11 of these were owed to you since your last weekly place ended." in told.latest("pk").body
    )


def test_a_date_that_the_new_place_lacks_stays_owed(school: OwedSchool) -> None:
    """So do lessons of another length."""
    take_with_wren(school, without=[date(2027, 1, 26)])
    (owed,) = school.owed()
    assert owed.booking.meeting.wall_on == date(2027, 1, 26)
    account = account_in(school.marlo, school.term, now=NOW).account
    assert (account.promised, account.adds_up) == (12, True)


def test_a_place_of_another_offering_gives_nothing_that_was_owed(school: OwedSchool) -> None:
    """A short lesson makes up no long one."""
    take_with_wren(school, offering=school.short)
    assert len(school.owed()) == 11
