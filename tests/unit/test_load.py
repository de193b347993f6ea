"""An instructor's load by example, with the numbers that the school's defaults give; random schools
are in test_slots.
"""

from dataclasses import replace

import pytest

from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    check_start,
)
from tests.unit.load_days import LESSON, NOOR, NOW, ilse, only_reason, starts, utc


def test_two_hours_in_a_row_are_followed_by_a_rest():
    """After 120 minutes the next start is 15 minutes away: a nearer one would make 150 in a row
    (TRADE.md 1.3, defaults).
    """
    full = ilse(("2027-03-03T10:00", 60), ("2027-03-03T11:05", 60))
    assert starts(full, "2027-03-03T12:00", "2027-03-03T12:30") == ["12:20", "12:25"]
    assert only_reason(full, "2027-03-03T12:15") == (
        "load-run",
        "120 minutes in a row would become 150: at most 120 are taught before a rest.",
        {"limit_minutes": 120, "taught_minutes": 120, "would_be_minutes": 150},
    )
    assert only_reason(full, "2027-03-03T09:20")[0] == "load-run"
    assert starts(full, "2027-03-03T09:00", "2027-03-03T09:55") == [
        "09:00",
        "09:05",
        "09:10",
        "09:15",
    ]


def test_a_start_that_joins_two_runs_counts_both():
    """Sixty minutes on either side and 30 between them would be 150 in a row; with a rest on one
    side it is allowed.
    """
    around = (("2027-03-03T10:00", 60), ("2027-03-03T11:50", 60))
    assert only_reason(ilse(*around), "2027-03-03T11:10")[1].startswith(
        "120 minutes in a row would become 150:"
    )
    assert starts(ilse(*around), "2027-03-03T11:05", "2027-03-03T11:55") == ["11:05", "11:15"]


def test_changeover_is_not_taught_time():
    """Four half hours with five minutes between them are 120 minutes in a row, not 135: the fourth
    is offered.
    """
    three = ilse(("2027-03-03T10:00", 30), ("2027-03-03T10:35", 30), ("2027-03-03T11:10", 30))
    assert "11:45" in starts(three, "2027-03-03T11:00", "2027-03-03T12:00")


def test_six_hours_a_day_are_their_local_day():
    """Six hours on Wednesday in Dublin close Wednesday; for an instructor in Kathmandu 18:15 UTC is
    already Thursday.
    """
    six = [(f"2027-03-03T{hour:02}:00", 90) for hour in (9, 11, 13, 15)]
    assert starts(ilse(*six), "2027-03-03T17:00", "2027-03-03T23:30") == []
    assert only_reason(ilse(*six), "2027-03-03T17:30")[:2] == (
        "load-day",
        "360 minutes on that day would become 390: at most 360 are taught.",
    )
    no_rest = Policy(night_rest_minutes=0)
    assert (
        starts(ilse(*six, zone="Asia/Kathmandu"), "2027-03-03T17:00", "2027-03-03T18:30", no_rest)[
            0
        ]
        == "18:15"
    )


def test_a_meeting_over_midnight_counts_on_both_days():
    """With 20 minutes left on Wednesday, a half hour may start at 23:40 or later: ten minutes of it
    are Thursday's.
    """
    policy = Policy(day_minutes=110, night_rest_minutes=0)
    busy = ilse(("2027-03-03T10:00", 90))
    assert starts(busy, "2027-03-03T23:00", "2027-03-04T00:00", policy) == [
        "23:40",
        "23:45",
        "23:50",
        "23:55",
    ]


def test_the_week_runs_from_monday():
    """Twenty-five hours by Saturday close Sunday; Monday is a new week, and the numbers say so."""
    week = [
        (f"2027-03-{day:02}T{hour:02}:00", 100)
        for day in (9, 10, 11, 12, 13)
        for hour in (9, 12, 15)
    ]
    assert starts(ilse(*week), "2027-03-14T08:00", "2027-03-14T23:00") == []
    assert only_reason(ilse(*week), "2027-03-14T10:00")[:2] == (
        "load-week",
        "1500 minutes in that week would become 1530: at most 1500 are taught.",
    )
    assert "10:00" in starts(ilse(*week), "2027-03-15T10:00", "2027-03-15T11:00")


def test_eleven_hours_lie_between_two_days():
    """An end at 21:00 keeps the next day free until 08:00, and an early start the evening before
    (HSE, rules on working time).
    """
    late = ilse(("2027-03-03T20:30", 30))
    assert starts(late, "2027-03-04T07:00", "2027-03-04T08:10") == ["08:00", "08:05"]
    assert only_reason(late, "2027-03-04T07:00") == (
        "load-rest",
        "The rest between two days would be 600 minutes: at least 660 are kept.",
        {"limit_minutes": 660, "taught_minutes": 0, "would_be_minutes": 600},
    )
    early = ilse(("2027-03-04T07:00", 30))
    assert starts(early, "2027-03-03T19:20", "2027-03-03T23:00") == ["19:20", "19:25", "19:30"]


def test_the_rest_is_elapsed_time_through_a_clock_change():
    """On the night of 28 March 2027 Dublin loses an hour (IANA): after 21:00 the first start is
    09:00, not 08:00.
    """
    late = ilse(("2027-03-27T20:30", 30))
    assert starts(late, "2027-03-28T06:00", "2027-03-28T08:05") == ["08:00"]


def test_what_does_not_bound_the_night_is_free():
    """Where a group meeting has already cut the night short, a lesson in the middle of the day cuts
    nothing more.
    """
    cut = ilse(("2027-03-03T22:00", 30), ("2027-03-04T07:00", 30), ("2027-03-04T12:00", 30))
    assert "10:00" in starts(cut, "2027-03-04T09:00", "2027-03-04T11:00")


def test_an_exception_of_their_own_opens_one_start():
    """A start they allowed is offered past every load rule, its neighbours are not (TRADE.md 8,
    scenario 8).
    """
    full = replace(ilse(("2027-03-03T10:00", 120)), allowed=frozenset({utc("2027-03-03T12:05")}))
    assert starts(full, "2027-03-03T12:00", "2027-03-03T12:20") == ["12:05", "12:15"]
    check_start(utc("2027-03-03T12:05"), LESSON, full, NOOR, Policy(), NOW)


@pytest.mark.parametrize("start", ["2027-03-03T12:05", "2027-03-04T07:00"])
def test_what_a_student_is_told_names_no_number(start):
    """The refusal at booking has its code, one neutral sentence and no data: their schedule stays
    theirs.
    """
    instructor = ilse(("2027-03-03T10:00", 120), ("2027-03-03T21:00", 30))
    with pytest.raises(Refused) as refusal:
        check_start(utc(start), LESSON, instructor, NOOR, Policy(), NOW)
    assert refusal.value.code in {"load-run", "load-rest"}
    assert (refusal.value.detail, refusal.value.data) == (
        "That time is not free: choose another time.",
        {},
    )
    assert refusal.value.title == Refused("taken", "").title  # pages say it above the sentence


def test_a_lesson_longer_than_the_longest_run_is_never_offered():
    """A limit below the length of one lesson closes everything, and says why."""
    policy = Policy(run_minutes=20)
    assert starts(ilse(), "2027-03-03T09:00", "2027-03-03T18:00", policy) == []
    assert only_reason(ilse(), "2027-03-03T10:00", policy)[1].startswith(
        "0 minutes in a row would become 30:"
    )


def test_a_rest_is_fifteen_minutes_and_a_limit_includes_its_last_minute():
    """Exactly 15 minutes part two runs, and exactly 120 minutes in a row, 360 a day or one lesson
    as long as the limit are taught.
    """
    parted = ilse(("2027-03-03T10:00", 60), ("2027-03-03T11:15", 60))
    assert "12:20" in starts(
        parted, "2027-03-03T12:20", "2027-03-03T12:25"
    )  # 90 in a row: the first hour is another run
    joined = ilse(("2027-03-03T10:00", 45), ("2027-03-03T11:35", 45))
    assert "10:55" in starts(joined, "2027-03-03T10:55", "2027-03-03T11:00")  # 45 + 30 + 45
    assert (
        len(
            starts(
                ilse(),
                "2027-03-03T10:00",
                "2027-03-03T11:00",
                Policy(run_minutes=30, day_minutes=30, week_minutes=30),
            )
        )
        == 12
    )


def test_a_meeting_that_begins_the_evening_before_leaves_the_full_day_alone():
    """With 20 minutes left on Thursday, a half hour that starts at 23:50 on Wednesday has exactly
    those and is offered; 23:55 is not.
    """
    policy = Policy(day_minutes=110, night_rest_minutes=0)
    thursday = ilse(("2027-03-04T10:00", 90))
    assert starts(thursday, "2027-03-03T23:40", "2027-03-04T00:10", policy) == [
        "23:40",
        "23:45",
        "23:50",
    ]
