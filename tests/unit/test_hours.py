"""Wall-clock hours become instants: against minute-by-minute walking, and against what the
standards say of gaps and folds.
"""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.errors import Refused
from bookings.domain.hours import (
    Away,
    DatedWindow,
    TeachingTime,
    WeeklyWindow,
    check_week,
    teachable,
    window_periods,
)
from bookings.domain.instants import instants, resolve
from bookings.domain.timeline import Horizon, Period, bits, periods
from tests.unit import brute
from tests.unit.times import days, midnight, teaching_times, zones

SUNDAY = 6


def at(text: str) -> datetime:
    """An instant from its text in UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@st.composite
def published(draw):
    """What an instructor published, and a horizon of some hours around a clock change."""
    near = draw(days)
    teaching = draw(teaching_times(near, draw(zones)))
    since = midnight(near) + timedelta(minutes=5 * draw(st.integers(-300, 300)))
    return teaching, Horizon(since, draw(st.integers(0, 400)))


@given(published())
def test_teachable_time_is_what_the_wall_clock_shows(case):
    """Each 5-minute cell is teachable exactly when all its minutes lie in a window and on no day
    away.
    """
    teaching, horizon = case
    expected = brute.teachable(teaching, horizon.starts_at, horizon.ends_at)
    assert bits(teachable(teaching, horizon)) == [i for i, free in enumerate(expected) if free]


@given(published())
def test_window_periods_are_the_runs_of_each_window(case):
    """Each window on each date, whole and apart from its neighbours, cut only by a clock change or
    a day away.
    """
    teaching, horizon = case
    found = [(period.starts_at, period.ends_at) for period in window_periods(teaching, horizon)]
    assert found == brute.window_runs(teaching, horizon.starts_at, horizon.ends_at)


@given(days, zones, st.integers(-1, 1), st.integers(0, 1439))
def test_instants_are_all_readings_of_a_wall_time(near, zone, shift, minute):
    """None, one or two instants, exactly those at which a clock on that wall shows that minute of
    that date.
    """
    on = near + timedelta(days=shift)
    day = brute.minutes_between(
        midnight(on) - timedelta(hours=26), midnight(on) + timedelta(hours=38)
    )
    expected = [instant for instant in day if brute.wall(instant, zone) == (on, minute)]
    assert list(instants(on, minute, zone)) == expected
    wall = datetime.combine(on, datetime.min.time()) + timedelta(minutes=minute)
    for fold in (0, 1):
        if expected:
            assert resolve(wall, fold, zone) == expected[min(fold, len(expected) - 1)]
        else:
            with pytest.raises(Refused) as refusal:
                resolve(wall, fold, zone)
            assert refusal.value.code == "clock-gap"


def test_a_wall_time_in_a_gap_is_refused_with_both_real_neighbours():
    """RFC 5545 section 3.3.5: 2:30 on 11 March 2007 in New York reads as 3:30 EDT; a person is told
    so instead.
    """
    with pytest.raises(Refused) as refusal:
        resolve(datetime(2007, 3, 11, 2, 30), 0, "America/New_York")
    assert refusal.value.code == "clock-gap"
    assert refusal.value.data["later"] == "2007-03-11T03:30"
    assert refusal.value.data["earlier"] == "2007-03-11T01:30"
    assert resolve(datetime(2007, 3, 11, 3, 30), 0, "America/New_York") == at("2007-03-11T07:30")


def test_a_wall_time_that_comes_twice_means_the_first_unless_folded():
    """RFC 5545 section 3.3.5: 1:30 on 4 November 2007 in New York is 1:30 EDT (UTC-04:00), the
    first of the two.
    """
    assert resolve(datetime(2007, 11, 4, 1, 30), 0, "America/New_York") == at("2007-11-04T05:30")
    assert resolve(datetime(2007, 11, 4, 1, 30), 1, "America/New_York") == at("2007-11-04T06:30")


def test_a_wall_time_carries_no_offset():
    """Passing an instant where a wall time is asked is a program's mistake."""
    with pytest.raises(ValueError, match="no offset"):
        resolve(at("2027-03-01T09:00"), 0, "Europe/Dublin")


@pytest.mark.parametrize(
    ("wall", "zone"),
    [(datetime(1, 1, 1), "Asia/Kathmandu"), (datetime(9999, 12, 31, 23), "America/New_York")],
    ids=["first", "last"],
)
def test_the_ends_of_the_calendar_are_refused_in_words(wall, zone):
    """A wall time whose instant no UTC datetime can hold is a refusal, not a crash."""
    with pytest.raises(Refused) as refusal:
        resolve(wall, 0, zone)
    assert refusal.value.code == "invalid"


def test_midnight_at_the_end_of_a_day_is_the_next_midnight():
    """Minute 1440 of a date is minute 0 of the next."""
    assert instants(date(2027, 3, 1), 1440, "Europe/Dublin") == instants(
        date(2027, 3, 2), 0, "Europe/Dublin"
    )


def test_hours_keep_the_wall_clock_through_a_clock_change():
    """Tuesdays 16:30 in Dublin read 11:30, 12:30, 12:30, 11:30 in New York on 9, 16, 23 and 30
    March 2027 (IANA rules, computed).
    """
    teaching = TeachingTime(weekly=(WeeklyWindow(1, 990, 1035, "Europe/Dublin"),))
    found = window_periods(teaching, Horizon.spanning(at("2027-03-09"), at("2027-03-31")))
    new_york = [brute.wall(period.starts_at, "America/New_York") for period in found]
    assert new_york == [
        (date(2027, 3, 9), 690),
        (date(2027, 3, 16), 750),
        (date(2027, 3, 23), 750),
        (date(2027, 3, 30), 690),
    ]


def test_the_day_that_apia_skipped_holds_nothing():
    """Pacific/Apia had no 30 December 2011 (IANA): its window gives no time, the others do."""
    every_day = tuple(WeeklyWindow(weekday, 540, 600, "Pacific/Apia") for weekday in range(7))
    skipped = DatedWindow(date(2011, 12, 30), 0, 1440, "Pacific/Apia")
    found = window_periods(
        TeachingTime(every_day, (skipped,)),
        Horizon.spanning(at("2011-12-29T12:00"), at("2012-01-01")),
    )
    assert [period.starts_at for period in found] == [
        at("2011-12-29T19:00"),
        at("2011-12-30T19:00"),
        at("2011-12-31T19:00"),
    ]
    assert instants(date(2011, 12, 30), 540, "Pacific/Apia") == ()


def test_days_away_win_over_weekly_and_extra_hours():
    """Extra hours that fall on a day away still count as away."""
    weekly, extra = (
        WeeklyWindow(0, 540, 600, "Europe/Dublin"),
        DatedWindow(date(2027, 3, 1), 900, 960, "Europe/Dublin"),
    )
    away = Away(date(2027, 3, 1), date(2027, 3, 1), "Europe/Dublin")
    horizon = Horizon.spanning(at("2027-03-01"), at("2027-03-09"))
    assert window_periods(TeachingTime((weekly,), (extra,), (away,)), horizon) == (
        Period(at("2027-03-08T09:00"), at("2027-03-08T10:00")),
    )


def test_windows_that_touch_are_one_stretch_of_time_and_two_windows():
    """A meeting may run across the seam; the chain of starts begins anew at each window."""
    teaching = TeachingTime(
        (WeeklyWindow(0, 540, 600, "Europe/Dublin"), WeeklyWindow(0, 600, 660, "Europe/Dublin"))
    )
    horizon = Horizon.spanning(at("2027-03-01"), at("2027-03-02"))
    assert periods(teachable(teaching, horizon), horizon) == (
        Period(at("2027-03-01T09:00"), at("2027-03-01T11:00")),
    )
    assert len(window_periods(teaching, horizon)) == 2


@pytest.mark.parametrize(
    ("window", "code"),
    [
        (WeeklyWindow(0, 600, 600, "Europe/Dublin"), "end-before-start"),
        (WeeklyWindow(0, 1320, 120, "Europe/Dublin"), "end-before-start"),
        (WeeklyWindow(0, 602, 660, "Europe/Dublin"), "invalid"),
        (WeeklyWindow(0, 600, 661, "Europe/Dublin"), "invalid"),
        (WeeklyWindow(0, -5, 660, "Europe/Dublin"), "invalid"),
        (WeeklyWindow(0, 600, 1445, "Europe/Dublin"), "invalid"),
        (WeeklyWindow(7, 600, 660, "Europe/Dublin"), "invalid"),
        (WeeklyWindow(-1, 600, 660, "Europe/Dublin"), "invalid"),
        (WeeklyWindow(0, 600, 660, "Europe/Rowanmere"), "unknown-zone"),
    ],
)
def test_a_week_that_cannot_be_published_is_refused(window, code):
    """Order, grid, day and zone of each window are checked."""
    with pytest.raises(Refused) as refusal:
        check_week((WeeklyWindow(4, 0, 1440, "Europe/Dublin"), window))
    assert refusal.value.code == code


def test_overlapping_windows_of_a_week_are_named():
    """Both windows stand in the sentence, and the second one's place in the data."""
    first, second = (
        WeeklyWindow(SUNDAY, 540, 600, "Europe/Dublin"),
        WeeklyWindow(SUNDAY, 595, 660, "Europe/Dublin"),
    )
    with pytest.raises(Refused) as refusal:
        check_week((first, second))
    assert refusal.value.code == "invalid"
    assert refusal.value.data["position"] == 1
    assert "Sunday 09:00-10:00 and 09:55-11:00" in refusal.value.detail


def test_a_full_week_is_published():
    """Windows may touch, fill a day, and lie at one time on two weekdays."""
    check_week(
        (
            WeeklyWindow(0, 0, 600, "Asia/Kathmandu"),
            WeeklyWindow(0, 600, 1440, "Asia/Kathmandu"),
            WeeklyWindow(1, 600, 1440, "Asia/Kathmandu"),
            WeeklyWindow(0, 600, 1440, "Europe/Dublin"),
        )
    )
