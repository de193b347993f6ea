"""What one start is refused for, and in which words."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    InstructorTime,
    SlotRequest,
    StudentTime,
    check_start,
    find_slots,
)
from bookings.domain.timeline import CELL, Period
from bookings.domain.vocabulary import Grid
from tests.unit import brute
from tests.unit.slot_people import ILSE, LESSON, NOOR, NOW, code_of


def test_a_naive_start_is_refused_first():
    """Without an offset nothing else is looked at."""
    assert code_of(NOW.replace(tzinfo=None), LESSON, ILSE, NOOR, Policy(), NOW) == "naive-time"


def test_a_taken_time_says_nothing_about_what_is_there():
    """A meeting and another calendar's busy time read the same to a student."""
    start = datetime(2027, 3, 2, 9, tzinfo=UTC)
    there = (Period(start, start + CELL),)
    refusals = []
    for instructor in (replace(ILSE, meetings=there), replace(ILSE, busy=there)):
        with pytest.raises(Refused) as refusal:
            check_start(start, LESSON, instructor, NOOR, Policy(), NOW)
        refusals.append((refusal.value.code, refusal.value.detail, refusal.value.data))
    assert refusals == [("taken", "That time is not free: choose another time.", {})] * 2


def test_changeover_is_kept_from_meetings_and_not_from_busy_time():
    """A lesson may end as another calendar's time begins; before a next meeting its changeover
    stays free.
    """
    start = datetime(2027, 3, 2, 9, tzinfo=UTC)
    ends = start + timedelta(minutes=25)
    after = (Period(ends, ends + CELL),)
    assert code_of(start, LESSON, replace(ILSE, busy=after), NOOR, Policy(), NOW) is None
    assert code_of(start, LESSON, replace(ILSE, meetings=after), NOOR, Policy(), NOW) == "taken"


def test_both_grids_say_where_starts_fall():
    """The refusal of a start off the offering's grid names the step."""
    start = datetime(2027, 3, 2, 9, 10, tzinfo=UTC)
    for grid, words in (
        (Grid.CLOCK, "every 30 minutes of the instructor's clock"),
        (Grid.WINDOW, "every 30 minutes from the start"),
    ):
        with pytest.raises(Refused) as refusal:
            check_start(start, replace(LESSON, grid=grid), ILSE, NOOR, Policy(), NOW)
        assert refusal.value.code == "off-grid"
        assert words in refusal.value.detail


def test_a_birthday_opens_the_late_hours_at_midnight():
    """On the day a student comes of age, 00:00 of the student's own clock is the first start
    outside a minor's hours.
    """
    all_day = TeachingTime(
        tuple(WeeklyWindow(weekday, 0, 1440, "Asia/Kathmandu") for weekday in range(7))
    )
    tenzin, student = (
        InstructorTime(3, "Asia/Kathmandu", all_day),
        StudentTime(4, "Asia/Kathmandu", date(2027, 3, 10)),
    )
    request = SlotRequest(
        replace(LESSON, minutes=30, changeover_minutes=0),
        NOW + timedelta(days=8),
        NOW + timedelta(days=9),
    )
    local = [
        brute.wall(slot.starts_at, "Asia/Kathmandu")
        for slot in find_slots(request, [tenzin], student, Policy(), NOW)
    ]
    assert [minute for on, minute in local if on == date(2027, 3, 9)][-1] == 20 * 60 + 30
    assert next(minute for on, minute in local if on == date(2027, 3, 10)) == 0
