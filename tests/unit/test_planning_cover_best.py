"""Covering: no plan is better, found by trying everything."""

import random
from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.planning.cover import Cover, CoverProblem, Lesson
from bookings.domain.planning.cover_plan import plan_cover
from bookings.domain.timeline import Period
from tests import profiles
from tests.unit.plain_cover import Plain, some_problem


def who(found: Cover) -> dict[int, int]:
    return {one.lesson_id: one.instructor_id for one in found.handovers}


def key(found: Cover) -> tuple[float, ...]:
    """The value as the plain search tells it: less is better."""
    value = found.values
    return -value["covered"], value["yeses"], value["strangers"], value["moves"]


def test_no_plan_is_better() -> None:
    """1,000 problems of up to eight lessons (a quick run: 100) beside every way to hand over."""
    chance, seen = random.Random(21), set()
    for number in range(1000 if profiles.is_thorough() else 100):
        problem = some_problem(chance, most=8 if number % 5 == 0 else 5)
        found = plan_cover(problem)
        assert found.is_proven
        assert key(found) == Plain(problem).best()
        assert key(found) == Plain(problem).value(who(found))
        assert found.values["yeses"] == sum(bool(one.needs_yes) for one in found.handovers)
        seen |= {code for one in found.handovers for code in one.needs_yes}
    assert {"outside-hours", "load-run", "load-rest"} <= seen


@given(seed=st.integers(0, 10**9))
def test_other_numbers_change_no_value_and_a_plan_is_the_same_each_time(seed: int) -> None:
    """Every lesson and every person has another number, and all come in another order."""
    problem = some_problem(random.Random(seed), most=6)
    found = plan_cover(problem)
    again = plan_cover(problem)
    assert (again.handovers, again.uncovered) == (found.handovers, found.uncovered)
    assert key(plan_cover(renamed(problem))) == key(found)


def renamed(problem: CoverProblem) -> CoverProblem:
    def other(one: Lesson) -> Lesson:
        return replace(one, id=900 - one.id, met=tuple(80 - by for by in one.met))

    return CoverProblem(
        tuple(map(other, reversed(problem.lessons))),
        tuple(
            replace(
                one,
                instructor_id=80 - one.instructor_id,
                lessons=tuple(map(other, reversed(one.lessons))),
                says_yes=tuple(900 - i for i in one.says_yes),
                says_no=tuple(900 - i for i in one.says_no),
            )
            for one in reversed(problem.substitutes)
        ),
        problem.policy,
    )


@given(seed=st.integers(0, 10**9))
def test_a_better_wish_never_makes_a_plan_worse(seed: int) -> None:
    """One substitute takes back every no, says yes to all, or opens an hour earlier."""
    chance = random.Random(seed)
    problem = some_problem(chance, most=6)
    first, *others = problem.substitutes
    everything = tuple(one.id for one in problem.lessons)
    earlier = tuple(Period(p.starts_at - timedelta(hours=1), p.ends_at) for p in first.hours)
    better = chance.choice(
        (
            replace(first, says_no=()),
            replace(first, says_yes=everything),
            replace(first, hours=earlier),
        )
    )
    improved = replace(problem, substitutes=(better, *others))
    assert key(plan_cover(improved)) <= key(plan_cover(problem))
