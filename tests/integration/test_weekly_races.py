"""Two requests at once around a weekly place, on PostgreSQL."""

import threading
from collections.abc import Callable
from datetime import date

import pytest
from django.db import transaction

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking
from bookings.operations.booking import book_slot
from bookings.operations.terms import ChangedTerm, change_term
from tests import cast
from tests.cast import at
from tests.school.weekly import NOW, School
from tests.threads import beside

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def test_a_place_and_a_booking_of_one_of_its_dates_at_the_same_instant():
    """One of the two has it whole: twelve lessons or one consultation, never eleven, and the other
    is told why.
    """
    school = School()
    noor, talk = cast.make_student(), cast.make_offering("Consultation", Kind.CONSULTATION, 25)
    cast.teaches(school.ilse, talk)
    start, codes = threading.Barrier(2), []

    def book() -> Booking:
        when = at("2027-02-23T16:30Z")
        return book_slot(
            actor=noor.user,
            student=noor,
            offering=talk,
            instructor=school.ilse,
            starts_at=when,
            now=NOW,
        )

    def compete(act: Callable[[], object]) -> None:
        start.wait(10)
        try:
            act()
        except Refused as refusal:
            codes.append(refusal.code)

    for thread in [
        beside(lambda: compete(school.take)),
        beside(lambda: compete(lambda: write(book, now=NOW))),
    ]:
        thread.join(20)
    assert (Booking.objects.count(), codes) in ((12, ["taken"]), (1, ["term-dates"]))


def test_a_term_that_is_shortened_while_a_place_is_taken_lists_its_lessons():
    """The change waits for the place that is just being written, and the admin is told of its three
    lessons outside.
    """
    school = School()
    changed: list[ChangedTerm] = []

    def shorten() -> None:
        changed.append(
            write(
                lambda: change_term(
                    actor=school.dag, term=school.term, last_on=date(2027, 3, 19), now=NOW
                ),
                now=NOW,
            )
        )

    with transaction.atomic():
        school.take()
        waiting = beside(shorten)
        waiting.join(1)
        assert not changed
    waiting.join(20)
    assert [meeting.wall_on.isoformat() for meeting in changed[0].left_outside] == [
        "2027-03-23",
        "2027-03-30",
        "2027-04-06",
    ]
