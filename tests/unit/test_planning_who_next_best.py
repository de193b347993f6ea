"""Who next: no plan is better, found by trying everything and by a second solver."""

import random
from dataclasses import replace

import networkx
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.planning.who_next import DueStudent, FreeStart, WhoNext, WhoNextProblem
from bookings.domain.planning.who_next_plan import plan_who_next
from bookings.domain.policy import Policy
from tests import profiles
from tests.unit.plain_who_next import Chosen, at, goes_together, some_problem, value, ways

NO_LIMITS = Policy(run_minutes=10**6, day_minutes=10**6, week_minutes=10**6, night_rest_minutes=0)


def planned(asked: WhoNextProblem) -> WhoNext:
    found = plan_who_next(asked)
    assert found.is_proven
    return found


def key(found: WhoNext) -> tuple[float, ...]:
    """Less is better."""
    value = found.values
    return -value["reached"], -value["unseen"], value["burden"]


def firsts(found: WhoNext) -> Chosen:
    return {one.student_id: one.start for one in found.proposals}


def test_no_plan_is_better() -> None:
    """1,000 problems (a quick run: 60) beside every choice of starts; the seconds and thirds go
    together with the others' first times.
    """
    chance = random.Random(60)
    for number in range(1000 if profiles.is_thorough() else 60):
        asked = some_problem(chance, most=6 if number % 20 == 0 else 4)
        found = planned(asked)
        assert key(found) == min(value(way, asked) for way in ways([*asked.students], asked, {}))
        assert key(found) == value(firsts(found), asked)
        assert goes_together(firsts(found), asked)


def student(chance: random.Random, student_id: int, minutes: list[int]) -> DueStudent:
    starts = tuple(FreeStart(at(m), chance.randint(0, 8)) for m in minutes)
    return DueStudent(student_id, chance.randint(0, 99), 25, 5, starts)


def test_a_matching_of_networkx_is_no_better() -> None:
    """Without load and overlaps, this is an assignment: networkx's maximum weight matching finds
    the same value, with weights that put the three aims in their order.
    """
    chance = random.Random(7)
    for _ in range(200 if profiles.is_thorough() else 30):
        half_hours = range(0, 30 * 12, 30)
        students = tuple(
            student(chance, i, [m for m in half_hours if chance.random() < 0.3])
            for i in range(chance.randint(1, 16))
        )
        found = planned(WhoNextProblem(students, (), "Europe/Dublin", NO_LIMITS))
        graph = networkx.Graph()
        for one in students:
            for start in one.starts:
                weight = 10**8 + one.weight * 10**3 - start.burden
                graph.add_edge(("student", one.student_id), start.starts_at, weight=weight)
        pairs = networkx.max_weight_matching(graph)
        total = sum(graph.edges[pair]["weight"] for pair in pairs)
        reached, unseen, burden = key(found)
        assert -reached * 10**8 - unseen * 10**3 - burden == total


@given(seed=st.integers(0, 10**9))
def test_other_numbers_change_no_value_and_a_plan_is_the_same_each_time(seed: int) -> None:
    """Each student has another number, and they come in another order."""
    asked = some_problem(random.Random(seed))
    found, again = planned(asked), planned(asked)
    assert (again.proposals, again.unreached) == (found.proposals, found.unreached)
    renamed = tuple(replace(one, student_id=90 - one.student_id) for one in asked.students[::-1])
    assert key(planned(replace(asked, students=renamed))) == key(found)


@given(seed=st.integers(0, 10**9))
def test_a_better_wish_never_makes_a_plan_worse(seed: int) -> None:
    """One student can come at one more start, or a start costs them less."""
    chance = random.Random(seed)
    asked = some_problem(chance)
    first, *others = asked.students
    if chance.random() < 0.5:
        starts = (*first.starts, FreeStart(at(2 * 1440 + 840), 8))
    else:
        starts = tuple(replace(start, burden=start.burden // 2) for start in first.starts)
    better = replace(asked, students=(replace(first, starts=starts), *others))
    assert key(planned(better)) <= key(planned(asked))
