"""Slots against the minute-by-minute walk, and the two readings of the rules against each other."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bookings.domain.burden import burden
from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    OfferingRules,
    SlotRequest,
    find_slots,
)
from bookings.domain.timeline import CELL, Horizon, Period
from bookings.domain.vocabulary import Grid
from tests.unit import brute
from tests.unit.slot_people import ILSE, LESSON, NOOR, NOW, code_of
from tests.unit.times import SOLVER_EXAMPLES, situations


@settings(max_examples=SOLVER_EXAMPLES)
@given(situations())
def test_slots_are_the_starts_that_break_no_rule(case):
    """Every start of two days around a clock change, judged minute by minute by a walk that shares
    no code with the solver.
    """
    offering, instructor, student, policy, now, since, until = case
    rules = brute.Rules(offering, instructor, student, policy, now, since, until)
    expected = [
        start for start in brute.minutes_between(since, until) if rules.first_refusal(start) is None
    ]
    found = find_slots(SlotRequest(offering, since, until), [instructor], student, policy, now)
    assert [slot.starts_at for slot in found] == expected
    for slot in found:
        period = Period(slot.starts_at, slot.ends_at)
        assert period.minutes == offering.minutes
        assert slot.burden == burden(period, student.time_zone)


@given(situations(), st.data())
def test_one_start_is_judged_as_the_search_judges_it(case, data):
    """check_start lets through exactly what find_slots offers, and refuses the rest by the first
    rule broken, in the promised order.
    """
    offering, instructor, student, policy, now, since, until = case
    rules = brute.Rules(offering, instructor, student, policy, now, since, until)
    offered = {
        slot.starts_at
        for slot in find_slots(
            SlotRequest(offering, since, until), [instructor], student, policy, now
        )
    }
    minutes = brute.minutes_between(since, until)
    tried = (
        offered
        | set(data.draw(st.lists(st.sampled_from(minutes), max_size=20)))
        | {at for at in minutes if at.minute % 25 == 5}
    )
    for start in tried:
        code = code_of(start, offering, instructor, student, policy, now)
        assert (code is None) is (start in offered)
        assert code == rules.first_refusal(start)


@given(situations(), st.integers(0, 1435), st.integers(5, 1440))
def test_the_hours_a_student_asks_for_hold_the_whole_meeting(case, earliest, latest):
    """`earliest` and `latest` only take away: what is left are the slots whose every minute lies
    between them.
    """
    offering, instructor, student, policy, now, since, until = case
    assume(earliest < latest)
    every = find_slots(SlotRequest(offering, since, until), [instructor], student, policy, now)
    asked = find_slots(
        SlotRequest(offering, since, until, earliest, latest), [instructor], student, policy, now
    )
    if (earliest, latest) == (0, 1440):
        assert asked == every
    else:
        holds = (
            brute.day_window_holds(
                slot.starts_at, offering.minutes, student.time_zone, earliest, latest
            )
            for slot in every
        )
        assert asked == [slot for slot, held in zip(every, holds, strict=True) if held]


@given(situations(), situations(), st.integers(0, 30))
def test_instructors_are_merged_by_start_and_then_id(case, other, limit):
    """Searching two instructors gives each one's slots, sorted; the limit cuts the end off."""
    offering, instructor, student, policy, now, since, until = case
    second = replace(other[1], id=instructor.id + 1)
    request = SlotRequest(offering, since, until)
    both = find_slots(request, [second, instructor], student, policy, now)
    apart = [
        slot
        for one in (instructor, second)
        for slot in find_slots(request, [one], student, policy, now)
    ]
    assert both == sorted(apart, key=lambda slot: (slot.starts_at, slot.instructor_id))
    assert (
        find_slots(replace(request, limit=limit), [second, instructor], student, policy, now)
        == both[:limit]
    )


@given(situations(), st.integers(0, 30), st.integers(-2000, 2000))
def test_the_nearest_are_those_no_other_lies_nearer_than(case, limit, minutes):
    """With an instant to be near to, the limit keeps the starts with the least distance, the
    earlier of two, in order of time.
    """
    offering, instructor, student, policy, now, since, until = case
    wanted = since + timedelta(minutes=minutes, seconds=7)
    request = SlotRequest(offering, since, until)
    every = find_slots(request, [instructor], student, policy, now)
    nearest = sorted(every, key=lambda slot: (abs(slot.starts_at - wanted), slot.starts_at))[:limit]
    found = find_slots(
        replace(request, limit=limit, nearest_to=wanted), [instructor], student, policy, now
    )
    assert found == sorted(nearest, key=lambda slot: slot.starts_at)


def test_until_bounds_the_start_and_not_the_end():
    """Half-open: a start at `until` is out, the one before is in though it ends later."""
    request = SlotRequest(LESSON, NOW + timedelta(days=1), NOW + timedelta(days=1, hours=1))
    assert [
        slot.starts_at.hour * 60 + slot.starts_at.minute
        for slot in find_slots(request, [ILSE], NOOR, Policy(), NOW)
    ] == [540, 570]


def test_a_search_that_lies_outside_what_is_open_finds_nothing():
    """Long past or far ahead is an empty answer at once, not a long search."""
    for since, until in (
        (NOW - timedelta(days=400), NOW),
        (NOW + timedelta(days=400), NOW + timedelta(days=4000)),
    ):
        assert find_slots(SlotRequest(LESSON, since, until), [ILSE], NOOR, Policy(), NOW) == []
    first_open = SlotRequest(
        LESSON, NOW - timedelta(days=700_000), NOW + timedelta(days=2_000_000), limit=1
    )
    assert find_slots(first_open, [ILSE], NOOR, Policy(), NOW)[0].starts_at == datetime(
        2027, 3, 2, 9, tzinfo=UTC
    )


def test_the_last_start_of_the_horizon_is_included():
    """60 days after now to the minute is open to the search as it is to the check."""
    now = datetime(2027, 1, 1, 9, 30, tzinfo=UTC)
    last = now + timedelta(days=60)
    found = find_slots(
        SlotRequest(LESSON, last - timedelta(hours=1), last + timedelta(hours=2)),
        [ILSE],
        NOOR,
        Policy(),
        now,
    )
    assert found[-1].starts_at == last
    assert code_of(last, LESSON, ILSE, NOOR, Policy(), now) is None


@pytest.mark.parametrize(("since", "until"), [(NOW, NOW), (NOW, NOW - CELL)])
def test_a_search_ends_after_it_starts(since, until):
    """An empty or backward stretch is refused."""
    with pytest.raises(Refused) as refusal:
        SlotRequest(LESSON, since, until)
    assert refusal.value.code == "end-before-start"


def test_the_latest_time_is_after_the_earliest():
    """Asking for 18:00-18:00 is refused rather than answered with nothing."""
    with pytest.raises(Refused) as refusal:
        SlotRequest(LESSON, NOW, NOW + CELL, earliest=1080, latest=1080)
    assert refusal.value.code == "end-before-start"


@pytest.mark.parametrize(
    ("minutes", "changeover", "step"),
    [(0, 5, 30), (24, 5, 30), (25, -5, 30), (25, 4, 30), (25, 5, 0), (25, 5, 31)],
)
def test_an_offering_counts_in_whole_cells(minutes, changeover, step):
    """Lengths, changeovers and steps off the 5-minute cells are refused for an offering."""
    with pytest.raises(Refused) as refusal:
        OfferingRules(minutes, changeover, Grid.CLOCK, step)
    assert refusal.value.code == "invalid"


def test_the_search_starts_on_the_grid_of_cells_after_an_odd_now():
    """A lead time that ends between two cells opens the next whole one."""
    now = NOW + timedelta(hours=12, minutes=3, seconds=20)
    found = find_slots(
        SlotRequest(replace(LESSON, step_minutes=5), NOW, NOW + timedelta(days=2)),
        [ILSE],
        NOOR,
        Policy(),
        now,
    )
    assert found[0].starts_at == Horizon(now + timedelta(hours=12), 0).starts_at + CELL
