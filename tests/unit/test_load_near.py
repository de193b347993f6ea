"""A limit of the load says the same of one start alone and among the starts of many days."""

from dataclasses import replace
from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.load import barred, bars
from bookings.domain.over_load import over_load
from bookings.domain.policy import Policy
from bookings.domain.timeline import CELL, Horizon, Period

BEGINS = datetime(2027, 3, 20, tzinfo=UTC)
"""Eight days before Europe changes its clocks."""
DAYS, DAY_CELLS = 16, 288
HERE = st.sampled_from(["Europe/Dublin", "Pacific/Auckland", "America/New_York"])


@st.composite
def policies(draw: st.DrawFn) -> Policy:
    """Limits that a school could set, and some that none would."""
    minutes = st.integers(0, 200).map(lambda fives: 5 * fives)
    return replace(
        Policy(),
        run_minutes=draw(minutes),
        run_gap_minutes=draw(minutes),
        day_minutes=draw(minutes),
        week_minutes=draw(minutes) * 3,
        night_rest_minutes=draw(minutes),
    )


@st.composite
def taught(draw: st.DrawFn) -> list[Period]:
    """Meetings of ten minutes to ten hours; some overlap."""
    cells = draw(st.lists(st.tuples(st.integers(0, DAYS * DAY_CELLS), st.integers(2, 120))))
    return [Period(BEGINS + CELL * at, BEGINS + CELL * (at + length)) for at, length in cells]


@given(taught(), policies(), HERE, st.integers(1, 40), st.integers(0, DAYS * DAY_CELLS))
def test_a_start_is_barred_alone_as_among_others(
    meetings: list[Period], policy: Policy, here: str, fives: int, cell: int
) -> None:
    """Wherever it lies over no meeting."""
    around = Horizon(BEGINS, DAYS * DAY_CELLS + 1)
    among = barred(bars(meetings, here, 5 * fives, policy, around), around)
    alone = Horizon(around.instant(cell), 1)
    found = barred(bars(meetings, here, 5 * fives, policy, alone), alone)
    if not around.busy_mask(tuple(meetings)) >> cell & 1:
        assert found == among >> cell & 1


@given(taught(), policies(), HERE)
def test_a_meeting_is_judged_beside_those_before_it(
    meetings: list[Period], policy: Policy, here: str
) -> None:
    """As if it were booked last, after all that begin earlier."""
    rising = sorted(
        {one.starts_at: one for one in meetings}.values(), key=lambda one: one.starts_at
    )
    count = 0
    for number, meeting in enumerate(rising):
        start = Horizon(meeting.starts_at, 1)
        found = bars(rising[:number], here, meeting.minutes, policy, start)
        count += barred(found, start)
    assert over_load(rising, {one.starts_at for one in rising}, here, policy) == count
