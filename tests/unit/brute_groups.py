"""Groups planned by trying everything: all sets of starts, all choices of who goes where."""

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import combinations, product

from bookings.domain.burden import HARD
from bookings.domain.planning.group import Form, GroupPlan, GroupProblem, Member, Start

FIRST = datetime(2027, 2, 1, 9, tzinfo=UTC)
Going = dict[int, tuple[int, ...]]
"""Which members (by their place in the problem) go to which start."""


def random_group(seed: int) -> GroupProblem:
    """A problem of up to four members and five starts in which every rule can bite."""
    source = random.Random(seed)
    count = source.randint(1, 5)
    slots = source.sample(range(24), count)
    starts = tuple(
        Start(at, source.randint(1, 2), at.date())
        for at in (FIRST + timedelta(days=slot // 6, minutes=30 * (slot % 6)) for slot in slots)
    )
    costs = (0, 0, 1, 1, 3, 8, 20, None)
    members = tuple(
        Member(
            number,
            tuple(source.choice(costs) for _ in starts),
            source.choice((0, 0, 1, 2.5, 5)),
            source.choice((1, 2, 3, None)),
        )
        for number in range(source.randint(1, 4))
    )
    bands = source.choice(((), (), ((1, 2), (2, 3)), ((1, 1), (2, 3))))
    form = source.choice((Form.SERIES, Form.PARALLEL))
    return GroupProblem(
        members,
        starts,
        minutes=45,
        places=source.randint(1, 5),
        meetings=source.randint(1, 3),
        form=form,
        days_apart=source.randint(0, 2),
        changeover=source.choice((0, 15)),
        bands=bands,
    )


def plans(problem: GroupProblem) -> Iterator[Going]:
    """Every plan there can be."""
    if problem.form is Form.SERIES:
        for chosen in combinations(range(len(problem.starts)), problem.meetings or 1):
            if are_apart(problem, chosen):
                yield from of_series(problem, chosen)
        return
    everywhere = (None, *range(len(problem.starts)))
    for choice in product(everywhere, repeat=len(problem.members)):
        going = {
            at: tuple(m for m, there in enumerate(choice) if there == at)
            for at in sorted({at for at in choice if at is not None})
        }
        is_few = len(going) <= (problem.meetings or len(problem.members))
        if is_few and are_apart(problem, tuple(going)) and is_possible(problem, going):
            yield going


def of_series(problem: GroupProblem, chosen: tuple[int, ...]) -> Iterator[Going]:
    members = range(len(problem.members))
    for count in range(min(problem.places, len(members)) + 1):
        for here in combinations(members, count):
            going = dict.fromkeys(chosen, here)
            if is_possible(problem, going):
                yield going


def are_apart(problem: GroupProblem, chosen: tuple[int, ...]) -> bool:
    for one, other in combinations([problem.starts[i] for i in chosen], 2):
        if problem.collide(one, other):
            return False
        is_near = abs((one.on - other.on).days) < problem.days_apart
        if problem.form is Form.SERIES and is_near:
            return False
    return True


def is_possible(problem: GroupProblem, going: Going) -> bool:
    """Everybody can come, there are places, and each meeting (a series as a whole) has a band."""
    for at, here in going.items():
        if len(here) > problem.places:
            return False
        if any(problem.members[m].costs[at] is None for m in here):
            return False
    together = [set().union(*going.values())] if problem.form is Form.SERIES else going.values()
    return all(has_band(problem, here) for here in together)


def has_band(problem: GroupProblem, here) -> bool:
    levels = [problem.members[m].level for m in here if problem.members[m].level is not None]
    bands = problem.bands or ((0, 99),)
    return any(all(low <= level <= high for level in levels) for low, high in bands)


def value(problem: GroupProblem, going: Going) -> tuple[float, ...]:
    """The stages' values, the first as its negative, so that less is better in each."""
    paid = dict.fromkeys(range(len(problem.members)), 0)
    dearest = 0
    for at, here in going.items():
        for m in here:
            cost = problem.members[m].costs[at]
            paid[m] += cost
            dearest = max(dearest, cost)
    placed = {m for here in going.values() for m in here}
    order = sorted(
        range(len(problem.starts)),
        key=lambda i: (problem.starts[i].starts_at, problem.starts[i].instructor_id),
    )
    return (
        -len(placed),
        int(dearest >= HARD),
        max(problem.members[m].carried + cost for m, cost in paid.items()),
        sum(paid.values()),
        sum(order.index(i) for i in going),
    )


def best_value(problem: GroupProblem) -> tuple[float, ...] | None:
    """The least value of all plans; None if there is no plan at all."""
    return min((value(problem, going) for going in plans(problem)), default=None)


def told(plan: GroupPlan) -> tuple[float, ...]:
    """The same tuple from a plan's stages."""
    placed, *others = (stage.value for stage in plan.stages)
    return (-placed, *others)


def going_of(problem: GroupProblem, plan: GroupPlan) -> Going:
    """Who goes where, read from the plan's meetings."""
    places = {member.id: i for i, member in enumerate(problem.members)}
    return {
        problem.starts.index(meeting.start): tuple(places[m] for m in meeting.members)
        for meeting in plan.meetings
    }
