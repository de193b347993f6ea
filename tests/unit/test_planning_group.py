"""When a group should meet: the trade's computed cases, everything tried, and bad input."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from bookings.domain.burden import burden
from bookings.domain.errors import Refused
from bookings.domain.planning.group import (
    GroupProblem,
    Member,
    Reason,
    Start,
)
from bookings.domain.planning.group_plan import plan_group
from bookings.domain.timeline import Period
from tests import profiles
from tests.unit.brute_groups import best_value, going_of, is_possible, random_group, told, value

EXAMPLES = 1000 if profiles.is_thorough() else 100
ZONES = {
    "Dublin": "Europe/Dublin",
    "New York": "America/New_York",
    "Kolkata": "Asia/Kolkata",
    "Sydney": "Australia/Sydney",
}
FEBRUARY = date(2027, 2, 3)


def half_hours(*days: date) -> tuple[Start, ...]:
    """A start at every half hour of these dates, UTC."""
    return tuple(
        Start(datetime(on.year, on.month, on.day, tzinfo=UTC) + timedelta(minutes=minute), 1, on)
        for on in days
        for minute in range(0, 24 * 60, 30)
    )


def group(*names: str, days: tuple[date, ...] = (FEBRUARY,), **other) -> GroupProblem:
    """People of these cities who are asked for an hour on one of the days."""
    starts = half_hours(*days)
    hours = [Period(start.starts_at, start.starts_at + timedelta(hours=1)) for start in starts]
    members = tuple(
        Member(number, tuple(burden(hour, ZONES[name]) for hour in hours))
        for number, name in enumerate(names, start=1)
    )
    return GroupProblem(members, starts, minutes=60, places=20, **other)


def best_starts(problem: GroupProblem) -> set[str]:
    """Every start that is as good as the best, to the minute, without the last stage."""
    found = set()
    best = plan_group(problem).values
    for start in problem.starts:
        i = problem.starts.index(start)
        only = replace(
            problem,
            starts=(start,),
            members=tuple(replace(m, costs=(m.costs[i],)) for m in problem.members),
        )
        values = plan_group(only).values
        if all(values[name] == best[name] for name in ("placed", "hard", "greatest", "sum")):
            found.add(f"{start.starts_at:%H:%M}")
    return found


def test_dublin_new_york_and_kolkata_meet_at_four_equal_times() -> None:
    """Source: TRADE.md 5, computed on tz data 2026f: least maximum 1, at 13:00Z or 13:30Z New York
    pays, at 14:00Z or 14:30Z Kolkata.
    """
    problem = group("Dublin", "New York", "Kolkata")
    plan = plan_group(problem)
    assert plan.values["greatest"] == 1 and plan.is_proven and plan.split == ()
    assert best_starts(problem) == {"13:00", "13:30", "14:00", "14:30"}


def test_over_four_meetings_new_york_and_kolkata_pay_two_each() -> None:
    """Source: TRADE.md 5 and 8 (18): weekly from 3 February 2027, at most 1 a meeting."""
    days = tuple(FEBRUARY + timedelta(days=7 * week) for week in range(4))
    plan = plan_group(group("Dublin", "New York", "Kolkata", days=days, meetings=4, days_apart=7))
    assert [(share.new, share.dearest) for share in plan.shares] == [(0, 0), (2, 1), (2, 1)]
    assert len(plan.meetings) == 4 and plan.is_proven


def test_with_sydney_for_kolkata_the_least_maximum_is_three() -> None:
    """Source: TRADE.md 5: 20:00Z costs (1, 0, 3) and 21:00Z (3, 0, 1), the two of least sum."""
    problem = group("Dublin", "New York", "Sydney")
    plan = plan_group(problem)
    assert plan.values["greatest"] == 3
    assert [share.new for share in plan.shares] == [1, 0, 3]
    assert best_starts(problem) == {"20:00", "21:00"}


def test_no_time_for_all_four_is_humane_and_two_groups_are_proposed() -> None:
    """Source: TRADE.md 5 and 8 (19): 11:00Z costs (0, 8, 0, 8) in February, so the group splits."""
    plan = plan_group(group("Dublin", "New York", "Kolkata", "Sydney"))
    assert plan.values["hard"] == 1 and plan.values["greatest"] == 8 and plan.is_proven
    assert f"{plan.meetings[0].start.starts_at:%H:%M}" == "11:00"
    groups = [own.meetings[0].members for own in plan.split]
    assert len(groups) == 2 and sorted(m for here in groups for m in here) == [1, 2, 3, 4]
    assert all(share.dearest < 8 for own in plan.split for share in own.shares)


def test_in_july_all_four_meet_at_eleven() -> None:
    """Source: TRADE.md 5: on 7 July 2027 11:00Z costs (0, 3, 0, 3)."""
    plan = plan_group(group("Dublin", "New York", "Kolkata", "Sydney", days=(date(2027, 7, 7),)))
    assert f"{plan.meetings[0].start.starts_at:%H:%M}" == "11:00"
    assert [share.new for share in plan.shares] == [0, 3, 0, 3] and plan.split == ()


def test_a_split_of_a_series_keeps_its_number_of_meetings() -> None:
    """Each of the two groups gets two weekly dates of its own that do not collide."""
    days = (FEBRUARY, FEBRUARY + timedelta(days=7))
    problem = group(*ZONES, days=days, meetings=2, days_apart=7)
    plan = plan_group(problem)
    assert [len(own.meetings) for own in plan.split] == [2, 2]
    starts = [meeting.start for own in plan.split for meeting in own.meetings]
    assert not any(
        problem.collide(one, other) for one in starts for other in starts if one is not other
    )


@pytest.mark.parametrize("seed", range(EXAMPLES))
def test_every_small_group_agrees_with_trying_everything(seed: int) -> None:
    """All start sets and assignments: the same values, proven, and a plan that has them."""
    problem = random_group(seed)
    best = best_value(problem)
    try:
        plan = plan_group(problem)
    except Refused:
        assert best is None
        return
    if best is None:
        assert {reason for _, reason in plan.unplaced} <= {Reason.NEVER, Reason.LEVEL}
        return
    if not plan.stages:
        assert best[0] == 0 and len(plan.unplaced) == len(problem.members)
        return
    going = going_of(problem, plan)
    assert plan.is_proven and is_possible(problem, going)
    if best[0] == 0:
        assert plan.meetings == ()
        return
    assert told(plan) == best == value(problem, going)
