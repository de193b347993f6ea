"""The algebra of time against the interval library portion and against plain counting."""

from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from zoneinfo import ZoneInfo

import portion
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL, Horizon, Period, bits, periods, runs
from tests.unit.times import DAYS, midnight, periods_near

NEAR = DAYS[0]
START = midnight(NEAR)
HORIZON = Horizon(START, 2 * 288)


def as_portion(found: tuple[Period, ...]) -> portion.Interval:
    """The same set of times as half-open intervals of portion."""
    return portion.Interval(
        *(portion.closedopen(period.starts_at, period.ends_at) for period in found)
    )


@pytest.mark.parametrize("end", [START, START - CELL])
def test_a_period_ends_after_its_start(end):
    """An empty period and one that runs backwards are refused."""
    with pytest.raises(Refused) as refusal:
        Period(START, end)
    assert refusal.value.code == "end-before-start"


def test_a_naive_time_is_refused():
    """A time without an offset never becomes part of a period or a horizon."""
    for attempt in (
        lambda: Period(START.replace(tzinfo=None), START),
        lambda: Horizon(START.replace(tzinfo=None), 1),
    ):
        with pytest.raises(Refused) as refusal:
            attempt()
        assert refusal.value.code == "naive-time"


def test_the_last_year_of_the_calendar_is_refused_in_words():
    """An instant that UTC cannot hold is a refusal, not a crash."""
    with pytest.raises(Refused) as refusal:
        Period(START, datetime.max.replace(tzinfo=timezone(timedelta(hours=-12))))
    assert refusal.value.code == "invalid"


def test_periods_compare_as_instants_in_a_repeated_hour():
    """Both 01:30s of one night keep their order and length, though Python compares datetimes of one zone by the wall (PEP 495)."""
    wall = datetime(2027, 11, 7, 1, 30, tzinfo=ZoneInfo("America/New_York"))
    period = Period(wall, wall.replace(fold=1))
    assert period.minutes == 60
    assert period.starts_at.tzinfo is UTC


def test_periods_that_touch_do_not_overlap():
    """A meeting may start the moment another ends (half-open periods)."""
    first, second = Period(START, START + CELL), Period(START + CELL, START + 2 * CELL)
    assert not first.overlaps(second)
    assert not second.overlaps(first)
    assert first.overlaps(Period(START, START + 2 * CELL))


@given(st.integers(0, 1 << 300), st.integers(1, 40))
def test_runs_are_starts_of_n_set_cells(mask, n):
    """A start is in `runs` exactly when its n cells are set, counted one by one."""
    expected = [i for i in range(301) if all(mask >> (i + k) & 1 for k in range(n))]
    assert bits(runs(mask, n)) == expected


@given(st.sets(st.integers(0, 500)))
def test_bits_lists_the_set_cells(cells):
    """Turning cells into a mask and back loses nothing."""
    assert bits(sum(1 << cell for cell in cells)) == sorted(cells)


@given(periods_near(NEAR), st.integers(-3000, 3000))
def test_rounding_is_inward_for_free_and_outward_for_busy(found, shift):
    """A cell is free when all its minutes are, busy when one is, whatever the horizon clips."""
    horizon = Horizon(START + timedelta(minutes=shift), 300)
    for period in found:
        cells = [
            portion.closedopen(horizon.instant(i), horizon.instant(i + 1))
            for i in range(horizon.cells)
        ]
        whole = as_portion((period,))
        assert bits(horizon.mask_inward(period)) == [
            i for i, cell in enumerate(cells) if cell in whole
        ]
        assert bits(horizon.mask_outward(period)) == [
            i for i, cell in enumerate(cells) if cell.overlaps(whole)
        ]
        assert horizon.busy_mask((period,)) == horizon.mask_outward(period)


@given(periods_near(NEAR), periods_near(NEAR, most=8), st.integers(1, 20))
def test_free_starts_equal_those_of_portion(free, busy, n):
    """Free less busy, and where n cells fit in it, as portion's intervals say."""
    on_cells = tuple(
        Period(Horizon(p.starts_at, 0).starts_at, Horizon(p.ends_at, 0).starts_at + CELL)
        for p in free
    )
    mask = 0
    for period in on_cells:
        mask |= HORIZON.mask_inward(period)
    mask &= ~HORIZON.busy_mask(busy)
    within = portion.closedopen(HORIZON.starts_at, HORIZON.ends_at)
    left = (as_portion(on_cells) & within) - as_portion(busy)
    starts = [
        i
        for i in range(HORIZON.cells)
        if portion.closedopen(HORIZON.instant(i), HORIZON.instant(i + n)) in left
    ]
    assert bits(runs(mask, n)) == starts


@given(st.integers(0, HORIZON.full))
def test_periods_and_masks_are_one_thing(mask):
    """Maximal runs read back give the mask, and no two of them touch."""
    found = periods(mask, HORIZON)
    assert HORIZON.busy_mask(found) == mask
    assert all(earlier.ends_at < later.starts_at for earlier, later in pairwise(found))


@given(st.integers(-10_000, 10_000), st.integers(-10_000, 10_000))
def test_a_horizon_spans_what_it_is_asked_to(first, second):
    """The smallest run of cells that holds [since, until), and none when that is empty."""
    since, until = START + timedelta(seconds=first), START + timedelta(seconds=second)
    horizon = Horizon.spanning(since, until)
    assert horizon.starts_at <= since < horizon.starts_at + CELL
    if since < until:
        assert horizon.ends_at - CELL < until <= horizon.ends_at
    assert (horizon.cells == 0) is (until <= horizon.starts_at)


def test_cells_are_five_minutes_from_the_full_hour():
    """A horizon starts on the cell that holds what it was asked for, before 1970 too."""
    for year in (1969, 2027):
        assert Horizon(datetime(year, 3, 1, 9, 9, 59, tzinfo=UTC), 1) == Horizon(
            datetime(year, 3, 1, 9, 5, tzinfo=UTC), 1
        )
    assert Horizon(START, 1).ends_at == START + timedelta(minutes=5)
    assert bits(HORIZON.full) == list(range(HORIZON.cells))


def test_a_horizon_has_no_negative_length():
    """A program's mistake, not a person's: it is a plain ValueError."""
    with pytest.raises(ValueError, match="negative"):
        Horizon(START, -1)
