"""What the two forms of a group share: alike members, options, and which options exclude others."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import timedelta

from bookings.domain.planning.group import Band, Costs, Form, GroupProblem, Member, Start


@dataclass(frozen=True, slots=True)
class Option:
    """A start for one band; `number` counts the starts in order of instant and instructor, and
    `index` is the start's place in the problem.
    """

    start: Start
    number: int
    index: int
    band: Band | None


Counts = dict[int, dict[int, int]]
"""For each chosen option, how many of which alike members go there."""


@dataclass(frozen=True, slots=True)
class Alike:
    """Members who cost the same at every option; `costs` go by option."""

    members: tuple[int, ...]
    costs: Costs
    carried: float

    @property
    def count(self) -> int:
        return len(self.members)


def options_of(problem: GroupProblem) -> tuple[tuple[Option, ...], dict[int, Costs]]:
    """Every option in order, and each member's costs by option."""
    order = sorted(
        range(len(problem.starts)),
        key=lambda i: (problem.starts[i].starts_at, problem.starts[i].instructor_id),
    )
    bands: tuple[Band | None, ...] = problem.bands or (None,)
    options = tuple(
        Option(problem.starts[i], number, i, band)
        for number, i in enumerate(order)
        for band in bands
    )
    costs = {
        member.id: tuple(
            member.costs[i] if is_in(member, band) else None for i in order for band in bands
        )
        for member in problem.members
    }
    return options, costs


def is_in(member: Member, band: Band | None) -> bool:
    """Whether the member's level is in the band; without a level or a band it always is."""
    return band is None or member.level is None or band[0] <= member.level <= band[1]


def alike_members(
    problem: GroupProblem, costs: dict[int, Costs], *, is_single: bool
) -> list[Alike]:
    """Members who can come to some option, those alike together, or each alone."""
    found: dict[object, list[Member]] = defaultdict(list)
    for member in problem.members:
        if any(cost is not None for cost in costs[member.id]):
            alone = member.id if is_single else None
            found[costs[member.id], member.carried, alone].append(member)
    return [
        Alike(tuple(member.id for member in alike), costs[alike[0].id], alike[0].carried)
        for alike in found.values()
    ]


def exclusive(problem: GroupProblem, options: tuple[Option, ...]) -> list[list[int]]:
    """Sets of options of which one at most may be chosen."""
    sets = [
        [j for j in range(i, len(options)) if problem.collide(option.start, options[j].start)]
        for i, option in enumerate(options)
    ]
    if problem.form is Form.SERIES:
        for first_on in sorted({option.start.on for option in options}):
            until = first_on + timedelta(days=problem.days_apart)
            sets.append(
                [j for j, option in enumerate(options) if first_on <= option.start.on < until]
            )
    return [near for near in sets if len(near) > 1]


def simple_bounds(
    alike: list[Alike], least: float, is_everyone: bool, meetings: int = 1
) -> tuple[float, float]:
    """Bounds of "greatest" and "sum" that need no solver: nobody pays less than the cheapest option
    costs them. `least` bounds the greatest where not everyone is placed.
    """
    if not is_everyone:
        return least, 0
    cheapest = [meetings * min(cost for cost in a.costs if cost is not None) for a in alike]
    pairs = list(zip(alike, cheapest, strict=True))
    greatest = max(a.carried + cost for a, cost in pairs)
    return max(least, greatest), sum(a.count * cost for a, cost in pairs)
