"""Hours away: a stretch of some hours, as the algebra of teaching hours takes it."""

from datetime import UTC, date, datetime

import pytest

from bookings.domain.hours import (
    Away,
    TeachingTime,
    WeeklyWindow,
    away_over,
    teachable,
    window_periods,
)
from bookings.domain.timeline import Horizon, Period


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def test_cleared_hours_take_only_their_own_time():
    """From 09:30 on the first date until 10:30 on the last; what lies before and after is left."""
    weekly = tuple(WeeklyWindow(day, 540, 660, "Europe/Dublin") for day in (0, 1, 2))
    away = Away(date(2027, 3, 1), date(2027, 3, 2), "Europe/Dublin", 570, 630)
    horizon = Horizon.spanning(at("2027-03-01"), at("2027-03-04"))
    assert window_periods(TeachingTime(weekly, away=(away,)), horizon) == (
        Period(at("2027-03-01T09:00"), at("2027-03-01T09:30")),
        Period(at("2027-03-02T10:30"), at("2027-03-02T11:00")),
        Period(at("2027-03-03T09:00"), at("2027-03-03T11:00")),
    )


@pytest.mark.parametrize(
    ("since", "until", "away"),
    [
        ("2027-03-12T15:30", "2027-03-12T18:00", ((3, 12), (3, 12), 930, 1080)),
        ("2027-03-12T00:00", "2027-03-13T00:00", ((3, 12), (3, 12), 0, 1440)),
        ("2027-03-12T22:10:20", "2027-03-13T01:00:20", ((3, 12), (3, 13), 1330, 61)),
        ("2027-10-31T00:50", "2027-10-31T01:10", ((10, 31), (10, 31), 10, 170)),
    ],
    ids=["hours", "a whole day", "past midnight, outward", "while the clocks go back"],
)
def test_a_stretch_as_hours_away_covers_it(since, until, away):
    """On the clock of Dublin. At 02:00 on 31 October 2027 its clocks go back to 01:00."""
    first, last, *minutes = away
    stretch = Period(at(since), at(until))
    found = away_over(stretch, "Europe/Dublin")
    assert found == Away(date(2027, *first), date(2027, *last), "Europe/Dublin", *minutes)
    always = tuple(WeeklyWindow(day, 0, 1440, "Europe/Dublin") for day in range(7))
    horizon = Horizon.spanning(stretch.starts_at.replace(second=0), stretch.ends_at)
    assert teachable(TeachingTime(always, away=(found,)), horizon) == 0
