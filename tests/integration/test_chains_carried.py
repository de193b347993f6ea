"""A promised lesson is neither promised twice nor lost when its place changes hands."""

from datetime import date, timedelta

import pytest

from bookings.domain.vocabulary import Attendance, OwedCause
from bookings.door import write
from bookings.models import Booking, OwedLesson, WeeklyPlace
from bookings.operations.booking import cancel_slot
from bookings.operations.calling_off import call_off
from bookings.operations.covering import GivenLesson, hand_lesson
from bookings.operations.declining import decline_booking
from bookings.operations.terms import change_term
from bookings.queries.accounts import account_in
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import at
from tests.school.exchanges import ASKED_AT, SAID_AT, ExchangingSchool
from tests.school.owed import OwedSchool

pytestmark = pytest.mark.django_db
THIRD_WEEK = date(2027, 2, 9)
END = at("2027-05-01T09:00Z")


@pytest.fixture
def school(monkeypatch: pytest.MonkeyPatch) -> ExchangingSchool:
    """The clock of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    return ExchangingSchool()


def exchange(school: ExchangingSchool) -> None:
    school.asked()
    for student in (school.noor, school.marlo, school.posy):
        school.say_yes(student)


def account(school: ExchangingSchool | OwedSchool, student: object) -> dict[str, int]:
    found = account_in(student, school.term, now=SAID_AT).account
    assert found.adds_up
    return {
        "promised": found.promised,
        **{outcome.value: count for outcome, count in found.counts.items()},
    }


def test_an_exchange_carries_what_is_owed_along(school: ExchangingSchool) -> None:
    """Noor's Tuesday in February is called off and owed before the places change hands: the week
    gets no other lesson, and twelve are promised as before.
    """
    lesson = Booking.objects.get(student=school.noor, meeting__wall_on=THIRD_WEEK)
    write(
        lambda: call_off(actor=school.dag, meeting=lesson.meeting, why="Ill.", now=ASKED_AT),
        now=ASKED_AT,
    )
    exchange(school)
    for student in (school.noor, school.marlo, school.posy):
        assert account(school, student)["promised"] == 12
    assert account(school, school.noor)["owed"] == 1
    days = Booking.objects.held().filter(student=school.noor)
    assert not days.filter(
        meeting__wall_on__range=(THIRD_WEEK - timedelta(days=1), THIRD_WEEK + timedelta(days=5))
    ).exists()
    assert list(findings()) == []


def test_a_date_that_the_new_place_lacks_is_owed(school: ExchangingSchool) -> None:
    """The term now ends on Tuesday 6 April: whoever takes Wednesdays or Thursdays has one date
    fewer than Tuesdays, and is owed that lesson; nothing is lost.
    """
    write(
        lambda: change_term(
            actor=school.dag, term=school.term, last_on=date(2027, 4, 6), now=ASKED_AT
        ),
        now=ASKED_AT,
    )
    school.term.refresh_from_db()
    exchange(school)
    assert account(school, school.noor)["promised"] == 12
    (owed,) = OwedLesson.objects.filter(student=school.noor)
    assert (owed.cause, owed.booking) == (OwedCause.PLACE_CHANGED, None)
    assert list(findings()) == []


def test_a_covered_lesson_stays_the_same_promise_and_a_refused_substitute_leaves_it_owed() -> None:
    """Source: a student may refuse a substitute, and the lesson is made up (TRADE.md 1.10)."""
    school = OwedSchool()
    wren = cast.make_instructor("Wren Halloway")
    lesson = school.lesson_on(THIRD_WEEK)
    now = at("2027-02-08T09:00Z")
    given = GivenLesson(lesson, school.ilse, wren, has_yes=False)
    write(lambda: hand_lesson(given, actor=school.dag, now=now), now=now)
    assert account(school, school.marlo)["promised"] == 12
    covered = Booking.objects.with_details().get(pk=lesson.pk)
    write(lambda: decline_booking(actor=school.marlo.user, booking=covered, now=now), now=now)
    assert [row.cause for row in school.owed()] == [OwedCause.DECLINED]
    assert account(school, school.marlo)["owed"] == 1


def test_the_audit_finds_a_promise_that_its_lessons_do_not_bear_out() -> None:
    """One counted twice, a make-up by another student, one that is closed and made up."""
    school = OwedSchool()
    school.call_off(school.lesson_on(date(2027, 1, 19)))
    (owed,) = school.owed()
    make_up = school.make_up(owed, at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    school.mark(make_up, Attendance.PRESENT)
    assert list(findings()) == []
    WeeklyPlace.objects.update(promised=13)
    OwedLesson.objects.update(closed_at=END, closed_how="by-hand")
    noor = cast.make_student("Noor Ashgrove")
    Booking.objects.filter(pk=make_up.pk).update(student=noor)
    assert {found.rule for found in findings()} == {"promise", "owed"}


def test_a_lesson_owed_for_what_was_given_is_found() -> None:
    """What is owed follows from how its lesson ended or was marked."""
    school = OwedSchool()
    lesson = school.lesson_on(date(2027, 1, 19))
    write(
        lambda: cancel_slot(
            actor=school.marlo.user, booking=lesson, now=lesson.starts_at - timedelta(days=3)
        ),
        now=lesson.starts_at - timedelta(days=3),
    )
    Booking.objects.filter(pk=lesson.pk).update(ended_why="cancelled-late")
    assert [found.rule for found in findings()] == ["owed"]
