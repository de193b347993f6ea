"""The timetable of a term: everything tried, better wishes, other names, and a matching."""

import random
from dataclasses import replace

import networkx
import pytest

from bookings.domain.errors import Refused
from bookings.domain.planning.timetable import (
    Place,
    TermInstructor,
    TermStudent,
    Timetable,
    TimetableProblem,
    Wish,
)
from bookings.domain.planning.timetable_plan import plan_timetable
from tests import profiles
from tests.unit.brute_timetables import (
    best_value,
    choice_of,
    is_kept,
    random_timetable,
    told,
    value,
)

EXAMPLES = 1000 if profiles.is_thorough() else 100
PROPERTIES = EXAMPLES // 3
MONDAY_15 = 15 * 60


def planned(problem: TimetableProblem) -> Timetable | None:
    """The plan; None where the fixed places cannot all be kept."""
    try:
        return plan_timetable(problem)
    except Refused:
        return None


def judged(plan: Timetable | None) -> tuple[float, ...]:
    return (1,) if plan is None else told(plan) if plan.stages else (0,)


@pytest.mark.parametrize("seed", range(EXAMPLES))
def test_every_small_timetable_agrees_with_trying_everything(seed: int) -> None:
    """Up to eight students: the same values, proven, and a table that has them."""
    problem = random_timetable(seed)
    best, plan = best_value(problem), planned(problem)
    if best is None or plan is None:
        assert best is None and plan is None
        return
    choice = choice_of(problem, plan)
    assert all(is_kept(problem, instructor, choice) for instructor in problem.instructors)
    assert plan.is_proven and value(problem, choice) == best
    assert told(plan) == best if plan.stages else best[0] == 0


@pytest.mark.parametrize("seed", range(PROPERTIES))
def test_a_better_wish_never_makes_the_timetable_worse(seed: int) -> None:
    """One student gets one more place, or one of theirs costs less."""
    problem, source = random_timetable(seed), random.Random(seed)
    chosen = source.randrange(len(problem.students))
    student = problem.students[chosen]
    places = [
        Place(instructor.id, at) for instructor in problem.instructors for at in instructor.starts
    ]
    place = source.choice(places)
    wishes = {wish.place: wish.burden for wish in student.wishes}
    wishes[place] = wishes.get(place, 20) // 2
    better = replace(student, wishes=tuple(Wish(at, cost) for at, cost in wishes.items()))
    students = [*problem.students[:chosen], better, *problem.students[chosen + 1 :]]
    after = planned(replace(problem, students=tuple(students)))
    assert judged(after) <= judged(planned(problem))


@pytest.mark.parametrize("seed", range(PROPERTIES))
def test_other_names_and_another_order_change_no_value(seed: int) -> None:
    """Students and instructors are shuffled and students get other ids."""
    problem, source = random_timetable(seed), random.Random(seed)
    students = [replace(student, id=1000 - student.id) for student in problem.students]
    source.shuffle(students)
    other = TimetableProblem(tuple(students), problem.instructors[::-1])
    assert judged(planned(other)) == judged(planned(problem))


@pytest.mark.parametrize("seed", range(0, PROPERTIES, 10))
def test_a_proven_timetable_is_the_same_each_time(seed: int) -> None:
    """Places and values of two solves are equal."""
    first, second = planned(random_timetable(seed)), planned(random_timetable(seed))
    assert (first is None) == (second is None)
    if first is not None and second is not None:
        assert replace(first, seconds=0) == replace(second, seconds=0)


@pytest.mark.parametrize("seed", range(PROPERTIES // 3))
def test_lessons_of_one_length_agree_with_a_matching(seed: int) -> None:
    """Half-hour lessons at starts an hour apart do not collide: the number placed is a maximum
    matching, and with no other wish the sum is its least cost (networkx as a second solver).
    """
    source = random.Random(seed)
    starts = tuple(MONDAY_15 + 60 * i for i in range(6))
    students = []
    for number in range(9):
        own = source.sample(starts, source.randint(1, 4))
        costs = [source.choice((0, 1, 3)) for _ in own]
        wishes = tuple(Wish(Place(1, at), cost) for at, cost in zip(own, costs, strict=True))
        students.append(TermStudent(number, 30, wishes))
    plan = plan_timetable(TimetableProblem(tuple(students), (TermInstructor(1, starts),)))
    limit = plan.values["greatest"]
    network = networkx.DiGraph()
    for at in starts:
        network.add_edge(("start", at), "out", capacity=1, weight=0)
    for student in students:
        network.add_edge("in", student.id, capacity=1, weight=0)
        for wish in student.wishes:
            at = ("start", wish.place.minute)
            network.add_edge(student.id, at, capacity=1, weight=wish.burden)
    assert plan.values["placed"] == networkx.maximum_flow_value(network, "in", "out")
    dear = [edge for edge in network.edges(data="weight") if edge[2] > limit]
    network.remove_edges_from(dear)
    flow = networkx.max_flow_min_cost(network, "in", "out")
    assert plan.values["sum"] == networkx.cost_of_flow(network, flow)
    assert plan.values["placed"] == sum(flow["in"].values())
