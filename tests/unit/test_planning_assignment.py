"""The generalised assignment problem in the model builder, beside trying everything.

Its published instances with known optima (OR-Library, set gap1) come with no package that the tests
could install, so these are made from a fixed seed.
"""

import random
from itertools import product

from bookings.domain.planning.model import Model, Stage
from bookings.domain.planning.solving import solve

AGENTS, JOBS = 3, 7


def test_the_best_assignment_under_capacities_is_found() -> None:
    """Each job to one agent, whose capacity holds it: 30 instances, every assignment tried."""
    chance = random.Random(515)
    for _ in range(30):
        worth = [[chance.randint(10, 25) for _ in range(JOBS)] for _ in range(AGENTS)]
        size = [[chance.randint(5, 15) for _ in range(JOBS)] for _ in range(AGENTS)]
        capacity = [chance.randint(25, 35) for _ in range(AGENTS)]
        values = [
            sum(worth[agent][job] for job, agent in enumerate(agents))
            for agents in product(range(AGENTS), repeat=JOBS)
            if all(
                sum(size[a][job] for job, agent in enumerate(agents) if agent == a) <= capacity[a]
                for a in range(AGENTS)
            )
        ]
        found = assigned(worth, size, capacity)
        assert found == (max(values) if values else None)


def assigned(worth: list[list[int]], size: list[list[int]], capacity: list[int]) -> float | None:
    model = Model()
    takes = [[model.binary() for _ in range(JOBS)] for _ in range(AGENTS)]
    for job in range(JOBS):
        model.row([(takes[agent][job], 1) for agent in range(AGENTS)], least=1, most=1)
    for agent in range(AGENTS):
        model.row(list(zip(takes[agent], size[agent], strict=True)), most=capacity[agent])
    terms = [
        (takes[agent][job], worth[agent][job]) for agent in range(AGENTS) for job in range(JOBS)
    ]
    found = solve(model, [Stage("worth", terms, is_most=True)], seconds=60)
    assert found.is_proven or found.is_impossible
    return None if found.values is None else found.stages[0].value
