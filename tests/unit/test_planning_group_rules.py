"""What holds for every plan of a group: better wishes, other names, flows, and bad input."""

import random
from dataclasses import replace

import networkx
import pytest

from bookings.domain.errors import Refused
from bookings.domain.planning.group import Form, GroupPlan, GroupProblem, Member, Reason
from bookings.domain.planning.group_plan import plan_group
from bookings.domain.planning.model import Progress
from tests import profiles
from tests.unit.brute_groups import random_group, told
from tests.unit.planned_groups import plain

EXAMPLES = 300 if profiles.is_thorough() else 30


def planned(problem: GroupProblem) -> GroupPlan | None:
    """The plan; None where the series has too few dates."""
    try:
        return plan_group(problem)
    except Refused:
        return None


def judged(plan: GroupPlan | None) -> tuple[float, ...]:
    """The values to compare; nothing but the number placed counts where that is 0."""
    if plan is None or not plan.stages or not plan.values["placed"]:
        return (0,)
    return told(plan)


@pytest.mark.parametrize("seed", range(EXAMPLES))
def test_a_better_wish_never_makes_the_plan_worse(seed: int) -> None:
    """One member's cost at one start falls, or a start they could not come to becomes possible."""
    problem, source = random_group(seed), random.Random(seed)
    chosen = source.randrange(len(problem.members))
    at = source.randrange(len(problem.starts))
    member = problem.members[chosen]
    costs = list(member.costs)
    cost = costs[at]
    costs[at] = 20 if cost is None else cost // 2
    better = list(problem.members)
    better[chosen] = replace(member, costs=tuple(costs))
    assert judged(planned(replace(problem, members=tuple(better)))) <= judged(planned(problem))


@pytest.mark.parametrize("seed", range(EXAMPLES))
def test_other_names_and_another_order_change_no_value(seed: int) -> None:
    """Members and starts are shuffled and members get other ids."""
    problem, source = random_group(seed), random.Random(seed)
    order = list(range(len(problem.starts)))
    source.shuffle(order)
    members = [
        replace(member, id=1000 - member.id, costs=tuple(member.costs[i] for i in order))
        for member in problem.members
    ]
    source.shuffle(members)
    other = replace(problem, members=tuple(members), starts=tuple(problem.starts[i] for i in order))
    assert judged(planned(other)) == judged(planned(problem))


@pytest.mark.parametrize("seed", range(0, EXAMPLES, 10))
def test_a_proven_plan_is_the_same_each_time(seed: int) -> None:
    """Meetings, members and values of two solves are equal."""
    first, second = planned(random_group(seed)), planned(random_group(seed))
    assert (first is None) == (second is None)
    if first is not None and second is not None:
        assert replace(first, seconds=0, split=()) == replace(second, seconds=0, split=())


@pytest.mark.parametrize("seed", range(EXAMPLES // 3))
def test_who_goes_where_agrees_with_flows(seed: int) -> None:
    """With every start held, the number placed is a maximum flow, and the sum is the least cost of
    such a flow among the places that the greatest burden leaves (networkx as a second solver).
    """
    source = random.Random(seed)
    problem = plain(14, 4, places=source.randint(2, 4), meetings=4, form=Form.PARALLEL)
    costs = (None, None, None, 0, 1, 3, 3, 8)
    members = tuple(
        replace(member, costs=tuple(source.choice(costs) for _ in problem.starts))
        for member in problem.members
    )
    problem = replace(problem, members=members)
    plan = plan_group(problem)
    limit = plan.values["greatest"]
    network = networkx.DiGraph()
    for i in range(len(problem.starts)):
        network.add_edge(f"start {i}", "out", capacity=problem.places, weight=0)
    for member in members:
        network.add_edge("in", member.id, capacity=1, weight=0)
        for i, cost in enumerate(member.costs):
            if cost is not None:
                network.add_edge(member.id, f"start {i}", capacity=1, weight=cost)
    assert plan.values["placed"] == networkx.maximum_flow_value(network, "in", "out")
    dear = [edge for edge in network.edges(data="weight") if edge[2] > limit]
    network.remove_edges_from(dear)
    flow = networkx.max_flow_min_cost(network, "in", "out")
    assert plan.values["sum"] == networkx.cost_of_flow(network, flow)
    assert plan.values["placed"] == sum(flow["in"].values())


@pytest.mark.parametrize(
    ("field", "problem"),
    [
        ("students", {"members": ()}),
        ("students", {"members": (Member(1, (0,)), Member(1, (0,)))}),
        ("students", {"members": (Member(1, (0, 0)),)}),
        ("places", {"places": 0}),
        ("minutes", {"minutes": 0}),
        ("meetings", {"meetings": 0}),
        ("meetings", {"meetings": None}),
        ("meetings", {"meetings": 2}),
        ("days_apart", {"days_apart": -1}),
    ],
)
def test_what_cannot_be_planned_is_refused_by_field(field: str, problem: dict) -> None:
    """One start and one member, with one value wrong; two meetings need two dates."""
    with pytest.raises(Refused) as refused:
        plan_group(replace(plain(1, 1), **problem))
    assert refused.value.code == "invalid" and refused.value.data["field"] == field


def test_a_carried_burden_is_counted_in_64ths() -> None:
    """A third of a burden would be rounded on the way, so the caller rounds it."""
    assert Member(1, (0,), 1 / 64).carried == 1 / 64
    with pytest.raises(Refused):
        Member(1, (0,), 1 / 3)


@pytest.mark.parametrize("form", Form)
@pytest.mark.parametrize("problem", [plain(3, 0), plain(3, 2, cost=None)])
def test_never_everywhere_and_no_starts_place_nobody(form: Form, problem: GroupProblem) -> None:
    """The answer is an empty plan that says why, and it is proven."""
    plan = plan_group(replace(problem, form=form))
    assert plan.meetings == () and plan.is_proven and plan.gap == 0
    assert plan.unplaced == tuple((member, Reason.NEVER) for member in range(3))


def test_more_places_than_members_place_everybody() -> None:
    """Two members and twelve places: the first start of the two."""
    plan = plan_group(plain(2, 2))
    assert plan.meetings[0].members == (0, 1) and plan.values["earliest"] == 0


def test_who_is_left_out_is_told_why() -> None:
    """One place of three, one who can never come, one at another level, one at another time."""
    problem = plain(2, 2, places=1)
    members = (
        *problem.members,
        Member(7, (None, None)),
        Member(8, (0, 0), level=9),
        Member(9, (None, 0)),
    )
    first_level = tuple(replace(member, level=1) for member in problem.members)
    plan = plan_group(replace(problem, members=(*first_level, *members[2:]), bands=((1, 3),)))
    assert plan.unplaced == (
        (1, Reason.FULL),
        (7, Reason.NEVER),
        (8, Reason.LEVEL),
        (9, Reason.OTHER_TIMES),
    )


def test_a_burden_carried_in_decides_who_pays() -> None:
    """One start costs the first of two members 1, the other start the second; the one who carries
    nothing pays.
    """
    problem = plain(2, 2)
    members = (Member(1, (1, 0), carried=2), Member(2, (0, 1), carried=0))
    plan = plan_group(replace(problem, members=members))
    assert [share.new for share in plan.shares] == [0, 1]


def test_a_plan_stopped_at_once_is_the_greedy_one_with_its_gap() -> None:
    """Whoever stops the solve before it begins still gets a plan, marked as such."""

    def watch(progress: Progress) -> bool:
        return False

    plan = plan_group(random_group(2), watch=watch)
    assert plan.is_stopped and plan.meetings and plan.stages
