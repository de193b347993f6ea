"""A day of practice: the order of its items, rests, and the days that may be ticked."""

from datetime import date

import pytest

from bookings.domain.errors import Refused
from bookings.domain.practice import REST, REST_AFTER, PracticeItem
from bookings.domain.practising import (
    check_day,
    days_shown,
    practised_by,
    steps_of,
    tickable_days,
)

TODAY = date(2027, 3, 1)


def items(*minutes: int) -> list[PracticeItem]:
    return [PracticeItem(what=f"Study {number}", minutes=number) for number in minutes]


def rested(*minutes: int) -> list[bool]:
    return [step.rests_first for step in steps_of(items(*minutes))]


def test_older_pieces_come_last() -> None:
    """Common practice: an older piece is reviewed after the main work. Places in the plan stay."""
    old = PracticeItem(what="An old song", minutes=5, is_review=True)
    steps = steps_of([old, *items(10, 15)])
    assert [(step.item, step.minutes) for step in steps] == [(1, 10), (2, 15), (0, 5)]


def test_a_rest_comes_after_25_minutes_at_most() -> None:
    """Source: private teachers' pages on practice: 5 minutes of rest after 25 of playing."""
    assert (REST, REST_AFTER) == (5, 25)
    assert rested(10, 15) == [False, False]
    assert rested(10, 16) == [False, True]
    assert rested(10, 15, 5) == [False, False, True]
    assert rested(40, 5) == [False, True]
    assert rested(20, 20, 5, 1) == [False, True, False, True]
    assert steps_of([]) == []


@pytest.mark.parametrize("on", [TODAY, date(2027, 2, 28)])
def test_today_and_yesterday_may_be_ticked(on: date) -> None:
    """The day before the first of a month is the last day of the month before."""
    check_day(on, given_on=on, today=TODAY)


def test_no_day_before_the_plan_was_given_may_be_ticked() -> None:
    """A plan of today has no yesterday."""
    assert tickable_days(given_on=TODAY, today=TODAY) == [TODAY]
    with pytest.raises(Refused, match="given on 1 March 2027"):
        check_day(date(2027, 2, 28), given_on=TODAY, today=TODAY)


@pytest.mark.parametrize(
    ("on", "code"),
    [
        (date(2027, 2, 27), "past"),
        (date.min, "past"),
        (date(2027, 3, 2), "not-yet"),
        (date.max, "not-yet"),
    ],
)
def test_no_other_day_may_be_ticked(on: date, code: str) -> None:
    """An older day and a day ahead, even at the ends of the calendar."""
    with pytest.raises(Refused) as refusal:
        check_day(on, given_on=date.min, today=TODAY)
    assert refusal.value.code == code


def test_the_last_fourteen_days_end_today() -> None:
    """Days without a tick have no minutes; a day before them is left out."""
    assert (days_shown(TODAY)[0], days_shown(TODAY)[-1]) == (date(2027, 2, 16), TODAY)
    told = practised_by({TODAY: 30, date(2027, 2, 20): 45, date(2027, 2, 15): 90}, today=TODAY)
    assert (len(told.days), told.count, told.most) == (14, 2, 45)
    assert practised_by({}, today=TODAY).most == 0
