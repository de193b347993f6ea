"""How long a family may answer or decline, and which times may be proposed together."""

from datetime import UTC, datetime, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.proposed_times import (
    check_apart,
    check_count,
    decline_by,
    proposal_answer_by,
    shared_answer_by,
    without_lead,
)
from bookings.domain.timeline import Period

NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    ("left", "answered"),
    [
        (timedelta(days=20), timedelta(hours=72)),
        (timedelta(hours=144), timedelta(hours=72)),
        (timedelta(hours=100), timedelta(hours=50)),
        (timedelta(hours=4), timedelta(hours=2)),
    ],
)
def test_a_family_has_three_days_or_half_the_time_left(left, answered):
    """It is the lesser of the two, counted to the earliest start."""
    starts = [NOON + left + HOUR, NOON + left]
    assert proposal_answer_by(NOON, starts, "UTC") == NOON + answered


def test_no_answer_is_due_at_night():
    """An answer due at 04:00 is due at 08:00 on the student's clock."""
    late = NOON.replace(hour=4)
    assert proposal_answer_by(late, [late + timedelta(days=20)], "UTC") == late + timedelta(
        hours=76
    )


def test_a_start_within_four_hours_leaves_no_time_to_answer():
    """The lesson is booked instead."""
    with pytest.raises(Refused) as caught:
        proposal_answer_by(NOON, [NOON + 4 * HOUR - timedelta(minutes=5)], "UTC")
    assert caught.value.code == "too-soon"


@pytest.mark.parametrize(
    ("starts", "already", "code"),
    [
        ([], 0, "invalid"),
        ([NOON, NOON], 0, "invalid"),
        ([NOON], 3, "limit-reached"),
        ([NOON + n * HOUR for n in range(4)], 0, "limit-reached"),
    ],
)
def test_one_to_three_different_times_are_proposed(starts, already, code):
    """Three at once in all; the same time twice is a slip."""
    with pytest.raises(Refused) as caught:
        check_count(starts, already)
    assert caught.value.code == code


def test_three_times_may_be_open():
    """Two that are open leave room for one."""
    check_count([NOON], 2)


def test_times_may_touch_but_not_overlap():
    """Changeover included."""
    check_apart([Period(NOON + HOUR, NOON + 2 * HOUR), Period(NOON, NOON + HOUR)])
    with pytest.raises(Refused) as caught:
        check_apart([Period(NOON + HOUR, NOON + 2 * HOUR), Period(NOON, NOON + 1.1 * HOUR)])
    assert caught.value.code == "taken"


def test_what_the_school_books_is_declined_for_a_day_or_until_it_begins():
    """Whichever is sooner."""
    assert decline_by(NOON, NOON + 30 * HOUR) == NOON + 24 * HOUR
    assert decline_by(NOON, NOON + HOUR) == NOON + HOUR


def test_only_the_lead_time_does_not_bind_the_school():
    """Every other rule of the policy stays."""
    assert without_lead(Policy()) == Policy(lead_time_minutes=0)


def test_families_in_two_zones_answer_by_an_instant_that_is_day_for_both() -> None:
    """Three days from 09:00 in Dublin are 04:00 in New York, so both have until 08:00 there."""
    now = datetime(2027, 1, 20, 9, tzinfo=UTC)
    starts = [now + timedelta(days=7)]
    zones = {"Europe/Dublin", "America/New_York"}
    assert shared_answer_by(now, starts, zones) == now + timedelta(hours=76)
    assert shared_answer_by(now, starts, {"Europe/Dublin"}) == now + timedelta(hours=72)
