"""Where a promised wall time lies, and which moved meetings must be moved together."""

from datetime import UTC, datetime, timedelta
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.errors import Refused
from bookings.domain.retiming import Mover, packed, shifted, tangles
from bookings.domain.timeline import Period

HOUR = timedelta(hours=1)
START = datetime(2026, 12, 1, 18, tzinfo=UTC)


# IANA tz database 2026f: Vancouver stays at -07 from 1 November 2026 on; Chisinau's spring gap is
# 03:00-04:00 on 28 March 2027.
@pytest.mark.parametrize(
    ("wall", "time_zone", "stored", "by", "is_gap"),
    [
        ("2026-12-01T10:00", "America/Vancouver", START, -HOUR, False),
        ("2026-12-01T10:00", "America/Vancouver", START - HOUR, timedelta(), False),
        ("2026-12-01T18:00", "Europe/London", START, timedelta(), False),
        (
            "2027-03-28T03:30",
            "Europe/Chisinau",
            datetime(2027, 3, 28, 0, 30, tzinfo=UTC),
            timedelta(),
            True,
        ),
    ],
)
def test_the_wall_time_decides(wall, time_zone, stored, by, is_gap):
    """How far the stored instant is off; in a gap it stays."""
    shift = shifted(datetime.fromisoformat(wall), 0, time_zone, stored)
    assert (shift.by, shift.is_gap, shift.moves) == (by, is_gap, by != timedelta())


@pytest.mark.parametrize(("fold", "stored"), [(0, "2026-11-01T05:30Z"), (1, "2026-11-01T06:30Z")])
def test_the_second_of_two_hours_stays_the_second(fold, stored):
    """New York, 1 November 2026, 01:30 twice (RFC 5545 section 3.3.5 takes the first; the stored
    fold tells).
    """
    assert not shifted(
        datetime(2026, 11, 1, 1, 30), fold, "America/New_York", datetime.fromisoformat(stored)
    ).moves


def test_an_unknown_zone_is_no_gap():
    """It is refused by its own name."""
    with pytest.raises(Refused) as caught:
        shifted(datetime(2026, 12, 1, 10, 0), 0, "Nowhere/Else", START)
    assert caught.value.code == "unknown-zone"


def mover(key, hour, by=-1, people=("ilse",), together=None):
    before = Period(START + hour * HOUR, START + hour * HOUR + timedelta(minutes=30))
    after = Period(before.starts_at + by * HOUR, before.ends_at + by * HOUR)
    return Mover(key, before, after, frozenset(people), together)


def keys(groups):
    return [[one.key for one in group] for group in groups]


def test_who_goes_where_another_was_moves_with_it():
    """A chain of three hours is one group, by time; a lesson two hours later is another."""
    assert keys(tangles([mover(3, 2), mover(1, 0), mover(2, 1), mover(4, 5)])) == [[1, 2, 3], [4]]


def test_two_that_change_places_are_one_group():
    """One goes an hour earlier, the other an hour later."""
    assert len(tangles([mover(1, 1, by=-1), mover(2, 0, by=1)])) == 1


def test_different_people_do_not_hold_each_other():
    """Two instructors at the same hours are two groups, unless one student ties them."""
    assert len(tangles([mover(1, 0, people=["ilse"]), mover(2, 0, people=["wren"])])) == 2
    assert (
        len(tangles([mover(1, 0, people=["ilse", "noor"]), mover(2, 0, people=["wren", "noor"])]))
        == 1
    )


def test_lessons_of_one_weekly_place_stay_together():
    """However far apart they lie."""
    assert keys(
        tangles([mover(1, 0, together=7), mover(2, 24 * 7, together=7), mover(3, 24 * 7 + 5)])
    ) == [[1, 2], [3]]


@given(
    st.lists(
        st.tuples(
            st.integers(0, 40),
            st.sampled_from([-2, -1, 0, 1]),
            st.sets(st.sampled_from("abc"), min_size=1),
        ),
        max_size=25,
    ),
    st.integers(1, 6),
)
def test_no_two_groups_meet_for_anybody(rows, most):
    """By trying every pair: movers of two groups share nobody at any common instant, old or new; no
    mover is lost or doubled.
    """
    movers = [mover(key, hour / 2, by, people) for key, (hour, by, people) in enumerate(rows)]
    groups = tangles(movers)
    assert sorted(one.key for group in groups for one in group) == list(range(len(rows)))
    for first, second in combinations(groups, 2):
        for one in first:
            for other in second:
                if one.people & other.people:
                    assert not any(
                        a.overlaps(b)
                        for a in (one.before, one.after)
                        for b in (other.before, other.after)
                    )
    batches = packed(groups, most)
    assert sorted(one.key for batch in batches for one in batch) == list(range(len(rows)))
    for batch in batches:
        assert len(batch) <= most or batch in groups
