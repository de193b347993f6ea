"""What changes on the day a child comes of age: notes close to guardians, bookings stay theirs
until the child has an account.
"""

from datetime import date, timedelta

import pytest

from accounts.models import Student, User
from bookings import outbox
from bookings.access import acts_for, name_for, own_students, reading_relation
from bookings.door import write
from bookings.models import Booking, OutboxMessage
from bookings.notices import readers_of
from bookings.operations.booking import book_slot
from bookings.operations.notes import release_assessment
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db
MIDNIGHT = at("2027-03-09T13:00Z")
"""10 March 2027 begins in Sydney."""
SECOND = timedelta(seconds=1)


@pytest.fixture
def orsola(db: None) -> User:
    return cast.make_user("Orsola Reed", "Europe/London")


@pytest.fixture
def lark(orsola: User) -> Student:
    return cast.make_minor("Lark Reed", guardian=orsola, adult_on=date(2027, 3, 10))


@pytest.mark.parametrize(
    ("has_account", "now", "books", "reads"),
    [
        (False, MIDNIGHT - SECOND, True, "family"),
        (False, MIDNIGHT, True, None),
        (True, MIDNIGHT - SECOND, True, "family"),
        (True, MIDNIGHT, False, None),
    ],
)
def test_what_a_guardian_may_do_changes_at_midnight_of_the_childs_clock(
    orsola: User, lark: Student, has_account: bool, now, books: bool, reads: str | None
) -> None:
    """Source: common practice; a guardian's consent ends at 18. Midnight in Sydney, wherever the
    guardian lives.
    """
    if has_account:
        cast.give_account(lark)
    note = cast.make_assessment(lark, cast.make_instructor(), state="released", released_at=NOW)
    assert acts_for(orsola, lark.pk, now=now) is books
    assert own_students(orsola, now=now) == ([lark] if books else [])
    assert reading_relation(orsola, note, now=now) == reads


def test_the_grown_child_reads_and_books_alone(orsola: User, lark: Student) -> None:
    """With an account of their own they do what their guardian did, and are the one who is written
    to.
    """
    account = cast.give_account(lark)
    note = cast.make_assessment(lark, cast.make_instructor(), state="released", released_at=NOW)
    assert own_students(account, now=MIDNIGHT) == [lark]
    assert reading_relation(account, note, now=MIDNIGHT) == "family"
    assert readers_of(lark, now=MIDNIGHT) == [account]
    assert readers_of(lark, now=MIDNIGHT - SECOND) == [orsola]
    assert name_for(cast.make_instructor("Wren Halloway").user, lark, MIDNIGHT) == "Lark Reed"


def test_no_guardian_of_a_grown_child_hears_of_a_note(orsola: User, lark: Student) -> None:
    """Who cannot read it is not told that it is there; a minor's guardian is."""
    ilse = cast.make_instructor()
    offering = cast.make_offering()
    cast.make_policy()
    cast.taught(ilse, lark, offering, MIDNIGHT - timedelta(days=1))
    for now in (MIDNIGHT, MIDNIGHT - SECOND):
        note = cast.make_assessment(lark, ilse)
        release_assessment(actor=ilse.user, note=note, now=now)
        told = OutboxMessage.objects.filter(kind="assessment", recipient=orsola)
        assert told.count() == (0 if now == MIDNIGHT else 1)


def booked(lark: Student, actor: User) -> Booking:
    cast.make_policy()
    ilse, lesson = cast.make_instructor(), cast.make_offering()
    cast.teaches(ilse, lesson)
    cast.publish(ilse, cast.EVERY_DAY)
    starts_at = at("2027-03-11T09:30Z")
    values = {"offering": lesson, "instructor": ilse, "starts_at": starts_at, "now": NOW}
    return write(lambda: book_slot(actor=actor, student=lark, **values), now=NOW)


@pytest.mark.parametrize("has_account", [False, True])
def test_a_reminder_written_before_the_birthday_follows_the_rule_when_it_leaves(
    orsola: User, lark: Student, has_account: bool
) -> None:
    """It was written to the guardian; on the day it leaves only a guardian who still answers gets
    it.
    """
    if has_account:
        cast.give_account(lark)
    booking = booked(lark, orsola)
    due_at = booking.starts_at - timedelta(hours=24)
    outbox.drain(lambda: due_at + timedelta(minutes=1))
    reminder = OutboxMessage.objects.get(recipient=orsola, kind="reminder-24h")
    assert reminder.state == ("superseded" if has_account else "sent")
