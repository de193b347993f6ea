"""What an hour costs: the curve at its edges, and group times with costs worked out by hand."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.burden import DEFAULT_CURVE, burden
from bookings.domain.timeline import Period
from tests.unit import brute
from tests.unit.times import days, midnight, zones

DUBLIN, NEW_YORK, KOLKATA, SYDNEY = (
    "Europe/Dublin",
    "America/New_York",
    "Asia/Kolkata",
    "Australia/Sydney",
)


def hour(text: str) -> Period:
    """60 minutes from an instant given in UTC."""
    starts_at = datetime.fromisoformat(text).replace(tzinfo=UTC)
    return Period(starts_at, starts_at + timedelta(minutes=60))


@pytest.mark.parametrize(
    ("start", "places", "costs"),
    [
        ("2027-02-03T13:00", (DUBLIN, NEW_YORK, KOLKATA), (0, 1, 0)),
        ("2027-02-03T13:30", (DUBLIN, NEW_YORK, KOLKATA), (0, 1, 0)),
        ("2027-02-03T14:00", (DUBLIN, NEW_YORK, KOLKATA), (0, 0, 1)),
        ("2027-02-03T14:30", (DUBLIN, NEW_YORK, KOLKATA), (0, 0, 1)),
        ("2027-02-03T20:00", (DUBLIN, NEW_YORK, SYDNEY), (1, 0, 3)),
        ("2027-02-03T21:00", (DUBLIN, NEW_YORK, SYDNEY), (3, 0, 1)),
        ("2027-02-03T11:00", (DUBLIN, NEW_YORK, KOLKATA, SYDNEY), (0, 8, 0, 8)),
        ("2027-07-07T11:00", (DUBLIN, NEW_YORK, KOLKATA, SYDNEY), (0, 3, 0, 3)),
    ],
)
def test_the_costs_of_group_times_are_those_worked_out_by_hand(start, places, costs):
    """Hour-long meetings between continents, winter and summer (the project's own arithmetic on
    IANA 2026f).
    """
    assert tuple(burden(hour(start), place) for place in places) == costs


@pytest.mark.parametrize(
    ("start", "cost"),
    [
        ("06:55", 8),
        ("07:00", 3),
        ("19:00", 0),
        ("19:05", 1),
        ("22:00", 8),
        ("22:05", 20),
        ("00:00", 20),
    ],
)
def test_the_dearest_minute_of_a_meeting_counts(start, cost):
    """An hour that ends on the stroke belongs to what came before it; five minutes more and the
    next value counts.
    """
    assert burden(hour(f"2027-02-03T{start}"), "Africa/Abidjan") == cost


def test_the_usual_curve_by_hour():
    """0 from 09 to 20, 1 and 3 in the hours around it, 8 at six and ten, 20 at night (the project's
    own proposal).
    """
    by_hour = {0: range(9, 20), 1: (8, 20), 3: (7, 21), 8: (6, 22), 20: (23, 0, 1, 2, 3, 4, 5)}
    assert {hour: cost for cost, hours in by_hour.items() for hour in hours} == dict(
        enumerate(DEFAULT_CURVE)
    )


@pytest.mark.parametrize(
    ("start", "zone"),
    [("2027-10-02T15:15", "Australia/Lord_Howe"), ("2027-09-25T14:00", "Pacific/Chatham")],
    ids=["before", "after"],
)
def test_a_meeting_beside_a_clock_change_reads_one_clock_only(start, zone):
    """15 minutes up to the change at 02:00, or from it at 03:45: the hour from 02 on is not touched
    by either (IANA).
    """
    starts_at = datetime.fromisoformat(start).replace(tzinfo=UTC)
    two_is_dear = tuple(20 if hour == 2 else 0 for hour in range(24))
    assert burden(Period(starts_at, starts_at + timedelta(minutes=15)), zone, two_is_dear) == 0


@given(
    days,
    zones,
    st.integers(-1440, 2880),
    st.integers(1, 300),
    st.none() | st.permutations(range(24)),
)
def test_burden_is_the_greatest_value_minute_by_minute(near, zone, shift, minutes, curve):
    """Any period, in any zone, across any clock change, with the usual curve or a person's own."""
    starts_at = midnight(near) + timedelta(minutes=shift)
    period = Period(starts_at, starts_at + timedelta(minutes=minutes))
    values = tuple(curve) if curve else DEFAULT_CURVE
    walked = max(
        values[brute.wall(at, zone)[1] // 60]
        for at in brute.minutes_between(period.starts_at, period.ends_at)
    )
    assert burden(period, zone, values) == walked
