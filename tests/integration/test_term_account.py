"""The account of a term adds up, whatever happens to its lessons and in whatever order."""

from contextlib import suppress
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance
from bookings.door import write
from bookings.models import Mark, OwedLesson
from bookings.operations.declining import decline_booking
from bookings.operations.owed import carry_in, lapse_owed, settle_owed
from bookings.operations.weekly import leave_weekly_place, move_weekly_place
from bookings.queries.accounts import account_in, students_with_account
from tests.cast import at
from tests.school.owed import OwedSchool

FIRST = date(2027, 1, 12)


def account(school: OwedSchool, now):
    found = account_in(school.marlo, school.term, now=now).account
    counts = {outcome.value: count for outcome, count in found.counts.items()}
    assert found.adds_up
    return {
        "promised": found.promised,
        "carried-in": found.carried_in,
        "extra": found.extra,
    } | counts


@pytest.mark.django_db
def test_a_make_up_that_is_missed_is_closed_and_twelve_are_still_promised() -> None:
    """Source: scenario 22, and a studio's published policy (TRADE.md 1.8)."""
    school = OwedSchool()
    school.mark(school.lesson_on(FIRST), Attendance.PRESENT)
    school.call_off(school.lesson_on(date(2027, 1, 19)))
    make_up = school.make_up(school.owed()[0], at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    school.mark(make_up, Attendance.ABSENT_WITHOUT_NOTICE)
    assert account(school, at("2027-01-26T21:00Z")) == {
        "promised": 12,
        "carried-in": 0,
        "extra": 0,
        "given": 1,
        "forfeited": 1,
        "unmarked": 1,
        "to-come": 9,
    }


@pytest.mark.django_db
def test_every_number_of_an_account_has_its_lessons() -> None:
    """One lesson for each outcome, a single lesson beside the promise and one from before."""
    school = OwedSchool()
    start, by = at("2027-01-12T09:00Z"), {"actor": school.dag}
    weeks = [school.lesson_on(FIRST + timedelta(weeks=week)) for week in range(5)]
    school.mark(weeks[0], Attendance.LATE)
    school.cancel(weeks[1], before=timedelta(hours=2))
    for lesson in weeks[2:5]:
        school.call_off(lesson)
    lapses, refunded, _ = school.owed()
    OwedLesson.objects.filter(pk=lapses.pk).update(use_by=date(2027, 2, 10))
    settle_owed(owed=refunded, reason="Refunded.", now=at("2027-02-09T20:00Z"), **by)
    carry_in(
        student=school.marlo,
        offering=school.lesson,
        term=school.term,
        use_by=date(2027, 4, 9),
        reason="From autumn.",
        now=start,
        **by,
    )
    school.book(at("2027-01-26T18:00Z"), start)
    now = at("2027-02-12T09:00Z")
    write(lambda: lapse_owed(now=now), now=now)
    assert account(school, now) == {
        "promised": 12,
        "carried-in": 1,
        "extra": 1,
        "given": 1,
        "forfeited": 1,
        "lapsed": 1,
        "carried-out": 1,
        "owed": 2,
        "unmarked": 1,
        "to-come": 7,
    }


@pytest.mark.django_db
def test_a_place_that_moves_promises_nothing_twice_and_loses_nothing() -> None:
    """A week whose lesson was called off gets no other at the new time: it is owed."""
    school = OwedSchool()
    school.call_off(school.lesson_on(date(2027, 3, 2)), before=timedelta(days=40))
    now = at("2027-02-12T09:00Z")
    (new,) = write(
        lambda: move_weekly_place(
            actor=school.marlo.user, place=school.place, weekday=1, wall_at=17 * 60 + 30, now=now
        ),
        now=now,
    )
    assert (new.promised, account(school, now)["promised"]) == (6, 12)
    assert account(school, now)["owed"] == 1


@pytest.mark.django_db
def test_an_account_is_of_a_student_with_a_weekly_place_in_the_term() -> None:
    """Others are not listed, and a search finds part of a name."""
    school = OwedSchool()
    school.siblings()
    now = at("2027-02-12T09:00Z")
    for words, found in (("", [school.marlo]), ("Marlo", [school.marlo]), ("Kit", [])):
        rows = students_with_account(school.term, school.dag, words=words, now=now)
        assert list(rows) == found


class TestAccountsAddUp(TestCase):
    """The equation of the account, as a property."""

    @settings(max_examples=15, deadline=None)
    @given(
        acts=st.lists(
            st.tuples(st.integers(0, 11), st.integers(0, 9), st.integers(0, 60)), max_size=14
        )
    )
    def test_the_account_adds_up_in_whatever_order_things_happen(self, acts) -> None:
        """Each act may be refused; what it leaves always adds up."""
        school = OwedSchool()
        for number, act, days in acts:
            with suppress(Refused):
                _do(school, number, act, days)
            account(school, at("2027-02-12T09:00Z"))
        account(school, at("2027-09-01T09:00Z"))


def _do(school: OwedSchool, number: int, act: int, days: int) -> None:
    lessons = list(school.marlo.bookings.with_details().order_by("pk"))
    lesson = lessons[number % len(lessons)]
    now = at("2027-01-05T09:00Z") + timedelta(days=2 * days)
    if act < 5:
        return school.mark(lesson, list(Attendance)[act])
    if act == 5:
        school.cancel(lesson, before=timedelta(hours=days))
    elif act == 6:
        school.call_off(lesson)
    elif act == 7:
        school.reinstate(lesson, lesson.starts_at - timedelta(days=1))
    elif act == 8 and school.owed():
        owed = school.owed()[number % len(school.owed())]
        school.make_up(owed, lesson.starts_at + timedelta(minutes=90), now)
    elif days % 3 == 0:
        # A place is given up after the lessons that the register says have been.
        marked = [row.starts_at for row in lessons if Mark.objects.filter(booking=row).exists()]
        leaves = max([now, *marked])
        write(
            lambda: leave_weekly_place(actor=school.marlo.user, place=school.place, now=leaves),
            now=leaves,
        )
    elif days % 3 == 1:
        write(lambda: lapse_owed(now=now), now=now)
    else:
        write(lambda: decline_booking(actor=school.marlo.user, booking=lesson, now=now), now=now)
    return None
