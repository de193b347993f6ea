"""The same problems as plain models: a binary for each choice, one weighted sum, no first answer
and no bound of its own.
"""

from collections import defaultdict

from bookings.domain.burden import HARD
from bookings.domain.planning.group import GroupProblem
from bookings.domain.planning.model import Model, Solution, Stage
from bookings.domain.planning.solving import solve
from bookings.domain.planning.timetable import TimetableProblem
from bookings.domain.planning.timetable_model import timetable_draft
from bookings.domain.planning.timetable_stages import stages_of

WEIGHTS = {
    "placed": 100_000,
    "changed": 10_000,
    "regular": 3_000,
    "siblings": 1_000,
    "greatest": 100,
    "sum": 10,
    "capacity": 1,
}
"""Of a timetable: weights as somebody would choose them, each as much as a few of the next."""


def plain_group(problem: GroupProblem, seconds: float) -> Solution:
    """Parallel meetings. The weights make one more of a stage dearer than all that follows."""
    model = Model()
    opens = [model.binary() for _ in problem.starts]
    hard, greatest = model.binary(), model.integer(0, 40)
    model.row([(z, 1) for z in opens], most=problem.meetings or len(opens))
    for i, one in enumerate(problem.starts):
        for j in range(i + 1, len(problem.starts)):
            if problem.collide(one, problem.starts[j]):
                model.row([(opens[i], 1), (opens[j], 1)], most=1)
    here: dict[int, list[tuple[int, float]]] = defaultdict(list)
    sums: list[tuple[int, float]] = []
    for member in problem.members:
        mine = []
        for i, cost in enumerate(member.costs):
            if cost is not None:
                x = model.binary()
                mine.append((x, 1.0))
                here[i].append((x, 1.0))
                sums.append((x, float(cost)))
                model.row([(x, 1), (opens[i], -1)], most=0)
                model.row([(greatest, 1), (x, -member.carried - cost)], least=0)
                model.row([(hard, 1), (x, -1 if cost >= HARD else 0)], least=0)
        model.row(mine, most=1)
        model.row([(greatest, 1)], least=member.carried)
    for i, coming in here.items():
        model.row([*coming, (opens[i], -problem.places)], most=0)
    return solve(model, [_weighted(problem, opens, hard, greatest, sums)], seconds=seconds)


def _weighted(
    problem: GroupProblem,
    opens: list[int],
    hard: int,
    greatest: int,
    sums: list[tuple[int, float]],
) -> Stage:
    ranks = [(z, float(i)) for i, z in enumerate(opens)]
    of_sum = 1 + (problem.meetings or 1) * len(opens)
    of_greatest = of_sum * (1 + 20 * len(problem.members))
    of_hard = of_greatest * 41
    placed = [(x, -2.0 * of_hard) for x, _ in sums]
    costs = [(x, of_sum * cost) for x, cost in sums]
    return Stage("all", [*placed, (hard, of_hard), (greatest, of_greatest), *costs, *ranks])


def plain_timetable(problem: TimetableProblem, seconds: float) -> Solution:
    """The same rows, with the seven values in one weighted sum."""
    draft = timetable_draft(problem)
    terms = [
        (column, WEIGHTS[stage.name] * (-by if stage.is_most else by))
        for stage in stages_of(draft)
        for column, by in stage.terms
    ]
    return solve(draft.model, [Stage("all", terms)], seconds=seconds, cuts=draft.cuts)
