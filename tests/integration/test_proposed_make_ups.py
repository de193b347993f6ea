"""Lessons that an instructor proposes or books while the school owes one: they make it up."""

from datetime import date

import pytest

from bookings.door import write
from bookings.models import Booking, OutboxMessage, OwedLesson
from bookings.operations.booking import book_slot
from bookings.operations.proposed_times import propose_times
from bookings.operations.taking_times import take_time
from bookings.queries.accounts import account_in
from bookings.queries.places_audit import findings
from tests.cast import at
from tests.school.owed import OwedSchool

pytestmark = pytest.mark.django_db

FIRST, SECOND = date(2027, 1, 19), date(2027, 1, 26)
NOW = at("2027-01-20T09:00Z")
SIX = at("2027-01-26T18:00Z")


@pytest.fixture
def school() -> OwedSchool:
    return OwedSchool()


def taken(school: OwedSchool, offering=None, starts_at=SIX) -> Booking:
    """Ilse proposes one time, and Marlo takes it."""
    proposal = write(
        lambda: propose_times(
            actor=school.ilse.user,
            student=school.marlo,
            offering=offering or school.lesson,
            instructor=school.ilse,
            starts=[starts_at],
            now=NOW,
        ),
        now=NOW,
    )
    time = Booking.objects.get(proposed=proposal)
    return write(
        lambda: take_time(actor=school.marlo.user, proposal=proposal, booking_id=time.pk, now=NOW),
        now=NOW,
    )


def test_a_proposed_time_that_is_taken_makes_up_what_is_owed(school) -> None:
    """Source: "each promised lesson is counted once" (the account's equation)."""
    school.call_off(school.lesson_on(FIRST))
    (owed,) = school.owed()
    assert taken(school).makes_up == owed
    assert not OwedLesson.objects.still_owed().exists()
    account = account_in(school.marlo, school.term, now=NOW).account
    assert (account.promised, account.extra, account.adds_up) == (12, 0, True)
    assert list(findings()) == []
    told = OutboxMessage.objects.filter(recipient=school.marlo.user, title__startswith="Booked:")
    assert "You have a make-up lesson: Harp lesson" in told.latest("pk").body


def test_so_does_a_lesson_that_the_instructor_books_but_none_that_the_family_does(school) -> None:
    """The page that proposes times books one at once, too. A family chooses for itself."""
    for on in (FIRST, SECOND):
        school.call_off(school.lesson_on(on))
    first, _ = school.owed()

    def book(actor, starts_at) -> Booking:
        return write(
            lambda: book_slot(
                actor=actor,
                student=school.marlo,
                offering=school.lesson,
                instructor=school.ilse,
                starts_at=starts_at,
                now=NOW,
            ),
            now=NOW,
        )

    assert book(school.ilse.user, SIX).makes_up == first
    later = at("2027-01-26T19:00Z")
    assert book(school.marlo.user, later).makes_up is None


def test_what_has_to_be_used_first_is_made_up_first(school) -> None:
    """A family has the longer time for what is left."""
    for on in (FIRST, SECOND):
        school.call_off(school.lesson_on(on))
    first, second = school.owed()
    OwedLesson.objects.filter(pk=first.pk).update(use_by=date(2027, 5, 1))
    assert taken(school).makes_up == second


def test_a_time_of_another_length_or_after_the_use_by_date_makes_up_nothing(school) -> None:
    """It is a lesson of its own, as the family has chosen it."""
    school.call_off(school.lesson_on(FIRST))
    assert taken(school, offering=school.short).makes_up is None
    OwedLesson.objects.update(use_by=date(2027, 1, 25))
    assert taken(school, starts_at=at("2027-01-26T19:00Z")).makes_up is None
