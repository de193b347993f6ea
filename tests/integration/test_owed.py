"""Owed lessons as they follow from cancellations, the register and what the school calls off."""

from datetime import date, timedelta

import pytest

from bookings.domain.vocabulary import Attendance, OwedCause
from bookings.door import write
from bookings.models import OutboxMessage, WeeklyPlace
from bookings.operations.commitments import end_all_ahead
from bookings.operations.weekly import leave_weekly_place
from tests.cast import at
from tests.school.owed import OwedSchool

pytestmark = pytest.mark.django_db

FIRST, SECOND, THIRD = date(2027, 1, 19), date(2027, 1, 26), date(2027, 2, 2)
MINUTE = timedelta(minutes=1)


@pytest.fixture
def school() -> OwedSchool:
    return OwedSchool()


def promised(place: WeeklyPlace) -> int:
    return WeeklyPlace.objects.get(pk=place.pk).promised


def test_a_place_promises_each_lesson_that_it_was_given(school: OwedSchool) -> None:
    """Source: TRADE.md 1.1: a term is a count of lessons promised."""
    assert promised(school.place) == 12


def test_giving_the_place_up_lowers_the_promise_by_the_lessons_that_end(school) -> None:
    """Giving the place up lowers the promise by the lessons that end."""
    now = at("2027-03-01T17:00Z")
    write(lambda: leave_weekly_place(actor=school.marlo.user, place=school.place, now=now), now=now)
    assert promised(school.place) == 7


def test_a_lesson_cancelled_in_time_is_owed_and_the_third_of_a_term_is_not(school) -> None:
    """Source: two make-ups a semester, published by colleges (TRADE.md 1.8)."""
    for on in (FIRST, SECOND, THIRD):
        school.cancel(school.lesson_on(on))
    owed = school.owed()
    assert [(row.booking.meeting.wall_on, row.cause) for row in owed] == [
        (FIRST, OwedCause.CANCELLED_IN_TIME),
        (SECOND, OwedCause.CANCELLED_IN_TIME),
    ]
    assert [row.use_by for row in owed] == [date(2027, 4, 19), date(2027, 4, 26)]
    assert {(row.term, row.minutes, row.offering) for row in owed} == {
        (school.term, 45, school.lesson)
    }


def test_absent_with_notice_shares_the_limit(school) -> None:
    """Absent with notice shares the limit."""
    school.cancel(school.lesson_on(FIRST))
    school.mark(school.lesson_on(SECOND), Attendance.ABSENT_WITH_NOTICE)
    school.mark(school.lesson_on(THIRD), Attendance.ABSENT_WITH_NOTICE)
    assert [row.cause for row in school.owed()] == [
        OwedCause.CANCELLED_IN_TIME,
        OwedCause.ABSENT_WITH_NOTICE,
    ]


def test_the_policy_in_force_when_it_was_booked_decides_the_limit(school) -> None:
    """The policy in force when it was booked decides the limit."""
    booking = school.lesson_on(FIRST)
    booking.policy.make_ups_a_term = 0
    booking.policy.save()
    school.cancel(booking)
    assert school.owed() == []


def test_a_late_cancellation_is_forfeited(school) -> None:
    """A late cancellation is forfeited."""
    school.cancel(school.lesson_on(FIRST), before=timedelta(hours=2))
    assert school.owed() == []


def test_what_the_school_calls_off_is_owed_beyond_any_limit(school) -> None:
    """What the school calls off is owed beyond any limit."""
    for week in range(4):
        school.call_off(school.lesson_on(FIRST + timedelta(weeks=week)))
    assert [row.cause for row in school.owed()] == [OwedCause.CALLED_OFF] * 4


def test_the_family_reads_what_it_is_owed_and_until_when(school) -> None:
    """The family reads what it is owed and until when."""
    school.call_off(school.lesson_on(FIRST))
    told = OutboxMessage.objects.filter(recipient=school.marlo.user).latest("pk")
    assert (
        "You will not be charged, and this does not count as a missed lesson. "
        "You are owed this lesson; book it by 19 April 2027 under My lessons."
    ) in told.body
    assert not OutboxMessage.objects.filter(
        recipient=school.ilse.user, body__contains="You are owed"
    ).exists()


def test_a_family_that_has_used_its_limit_reads_that_the_lesson_is_not_made_up(school) -> None:
    """A family that has used its limit reads that the lesson is not made up."""
    for on in (FIRST, SECOND, THIRD):
        school.cancel(school.lesson_on(on))
    told = list(
        OutboxMessage.objects.filter(recipient=school.marlo.user, title__startswith="Cancelled")
        .order_by("pk")
        .values_list("body", flat=True)
    )
    assert "book it by 19 April 2027" in told[0]
    assert "so this one will not be made up." in told[2]


def test_a_single_lesson_cancelled_in_time_is_not_owed_but_one_called_off_is(school) -> None:
    """Source: "teacher cancels: always made up, carried or refunded" (TRADE.md 1.8)."""
    now = at("2027-01-12T09:00Z")

    school.cancel(school.book(at("2027-01-19T18:00Z"), now))
    assert school.owed() == []
    school.call_off(school.book(at("2027-01-26T18:00Z"), now))
    assert [(row.cause, row.term) for row in school.owed()] == [(OwedCause.CALLED_OFF, school.term)]


def test_a_student_who_leaves_is_owed_no_lesson_that_ends_with_them(school) -> None:
    """What a make-up stood for is still owed."""
    school.call_off(school.lesson_on(FIRST))
    school.make_up(school.owed()[0], at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    now = at("2027-01-25T18:00Z")
    write(
        lambda: end_all_ahead(
            actor=school.dag, students=[school.marlo.pk], why="Marlo leaves.", now=now
        ),
        now=now,
    )
    assert [row.cause for row in school.owed()] == [OwedCause.CALLED_OFF] * 2
    # Given on 12 January, called off on the 19th; the one on the 26th was kept, then called off.
    assert promised(school.place) == 2


def test_make_ups_may_be_taken_until_the_end_of_the_flex_week(school) -> None:
    """Source: a flex or make-up week at the end of a term (TRADE.md 1.1); 90 days where they end
    later.
    """
    school.term.flex_last_on = date(2027, 4, 23)
    school.term.save()
    for on in (FIRST, THIRD):
        school.call_off(school.lesson_on(on))
    assert [row.use_by for row in school.owed()] == [date(2027, 4, 23), date(2027, 5, 3)]


def test_the_family_is_told_what_the_register_makes_owed_and_once(school) -> None:
    """Marked again with the same outcome, it is the same owed lesson and no second email."""
    lesson = school.lesson_on(FIRST)
    for _ in range(2):
        school.mark(lesson, Attendance.INSTRUCTOR_ABSENT)
    told = OutboxMessage.objects.get(recipient=school.marlo.user, title__startswith="You are owed")
    assert "Why: the instructor was absent." in told.body
    assert "You are owed this lesson; book it by 19 April 2027 under My lessons." in told.body
