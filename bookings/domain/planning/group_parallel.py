"""Parallel meetings as a model: each member goes to one.

Unknowns: z_o, whether option o is chosen; x_gp, how many of the members g, alike, go to an option
of the pattern p (options that cost every member the same); h, the value "hard"; t_v, whether
anybody comes to carry v or more. With at most K meetings, places C, n_g members and costs c_gp:

    sum_o z_o <= K;  sum_o z_o <= 1 in every set that excludes another
    sum_p x_gp <= n_g;  sum_g x_gp <= C Z_p, where Z_p = sum of z_o over o in p
    x_gp <= min(n_g, C) Z_p                    (implied, and what makes the relaxation strong)
    sum of x_gp over the patterns of burden HARD or more for g      <= n_g h
    sum of x_gp over the patterns with carried_g + c_gp >= v        <= n_g t_v

The greatest is the most that anybody carries already and, for each v above it, the step to v times
t_v. Who of g goes to which option of p is free, and is filled in order.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

from bookings.domain.burden import HARD
from bookings.domain.planning.group import UNIT, GroupProblem
from bookings.domain.planning.group_options import Alike, Counts, Option, exclusive, simple_bounds
from bookings.domain.planning.model import Model, Stage, Values


@dataclass(slots=True)
class ParallelDraft:
    """The model of one problem and what its columns mean. `goes` is by (alike, pattern)."""

    problem: GroupProblem
    options: tuple[Option, ...]
    alike: list[Alike]
    most: int
    patterns: list[list[int]]
    model: Model = field(default_factory=Model)
    opens: list[int] = field(default_factory=list)
    goes: dict[tuple[int, int], int] = field(default_factory=dict)
    hard: int = 0
    carried: int = 0
    unit: float = 1
    reached: dict[float, int] = field(default_factory=dict)

    def cost(self, g: int, p: int) -> int:
        cost = self.alike[g].costs[self.patterns[p][0]]
        return 0 if cost is None else cost

    def stages(self, *, is_everyone: bool) -> list[Stage]:
        """The objectives in order. `is_everyone`: all are known to be placed in the best plans."""
        carried = self.unit * self.model.low[self.carried]
        greatest, least_sum = simple_bounds(self.alike, carried, is_everyone)
        levels = [carried, *self.reached]
        steps = [(self.reached[level], level - below) for below, level in pairwise(levels)]
        sums = [(column, self.cost(g, p)) for (g, p), column in self.goes.items()]
        ranks = [(z, o.number) for z, o in zip(self.opens, self.options, strict=True)]
        most = min(self.problem.places * self.most, sum(a.count for a in self.alike))
        stages = [
            Stage(
                "placed",
                [(column, 1) for column in self.goes.values()],
                is_most=True,
                known_bound=most,
                worst=0,
            ),
            Stage("hard", [(self.hard, 1)], known_bound=0, worst=1),
            Stage(
                "greatest",
                [(self.carried, self.unit), *steps],
                known_bound=greatest,
                worst=levels[-1],
                unit=self.unit,
            ),
            Stage("sum", sums, known_bound=least_sum, worst=self._dearest()),
            Stage("earliest", ranks, known_bound=0, worst=self._latest()),
        ]
        if self.problem.meetings is None:
            fewest = Stage("meetings", [(z, 1) for z in self.opens], known_bound=0, worst=self.most)
            stages.insert(1, fewest)
        return stages

    def _dearest(self) -> int:
        """The sum if everybody paid their most."""
        return sum(a.count * max(cost for cost in a.costs if cost is not None) for a in self.alike)

    def _latest(self) -> int:
        """The sum of the last starts' numbers."""
        return sum(sorted(option.number for option in self.options)[-self.most :])

    def fixed_to(self, chosen: set[int]) -> Model:
        """The model in which only these options may be chosen."""
        high = list(self.model.high)
        for i, column in enumerate(self.opens):
            if i not in chosen:
                high[column] = 0
        for (_, p), column in self.goes.items():
            if not chosen.intersection(self.patterns[p]):
                high[column] = 0
        return Model(self.model.low, high, self.model.rows)

    def values_of(self, chosen: Counts) -> Values:
        """The values of a first answer, where `chosen` has how many go to each option."""
        values = [0.0] * len(self.model.low)
        values[self.carried] = self.model.low[self.carried]
        pattern_of = {i: p for p, pattern in enumerate(self.patterns) for i in pattern}
        for i, here in chosen.items():
            values[self.opens[i]] = 1
            for g, count in here.items():
                values[self.goes[g, pattern_of[i]]] += count
                cost = self.cost(g, pattern_of[i])
                after = self.alike[g].carried + cost
                values[self.hard] = max(values[self.hard], cost >= HARD)
                for level, reached in self.reached.items():
                    values[reached] = max(values[reached], after >= level)
        return tuple(values)

    def going(self, values: Values) -> dict[int, tuple[int, ...]]:
        """Chosen options, each with the members who go there; an empty one is left out."""
        left = [list(a.members) for a in self.alike]
        found: dict[int, tuple[int, ...]] = {}
        for p, pattern in enumerate(self.patterns):
            coming: list[int] = []
            for g, waiting in enumerate(left):
                if (g, p) in self.goes:
                    count = round(values[self.goes[g, p]])
                    coming += waiting[:count]
                    del waiting[:count]
            for i in pattern:
                here = coming[: self.problem.places]
                if here and values[self.opens[i]] > 0.5:
                    found[i] = tuple(here)
                    del coming[: len(here)]
        return found


def parallel_draft(
    problem: GroupProblem, options: tuple[Option, ...], alike: list[Alike]
) -> ParallelDraft:
    """The model of at most `problem.meetings` meetings among the options."""
    same: dict[tuple[int | None, ...], list[int]] = defaultdict(list)
    for i in range(len(options)):
        same[tuple(a.costs[i] for a in alike)].append(i)
    most = problem.meetings or sum(a.count for a in alike)
    patterns = [
        pattern for costs, pattern in same.items() if any(cost is not None for cost in costs)
    ]
    draft = ParallelDraft(problem, options, alike, min(most, len(options)), patterns)
    _choices(draft)
    _burdens(draft)
    return draft


def _choices(draft: ParallelDraft) -> None:
    """The columns z and x, and the rows of who may go where."""
    model, places = draft.model, draft.problem.places
    draft.opens = [model.binary() for _ in draft.options]
    model.row([(z, 1) for z in draft.opens], most=draft.most)
    for near in exclusive(draft.problem, draft.options):
        model.row([(draft.opens[i], 1) for i in near], most=1)
    for p, pattern in enumerate(draft.patterns):
        opened = [(draft.opens[i], 1.0) for i in pattern]
        here = []
        for g, a in enumerate(draft.alike):
            if a.costs[pattern[0]] is not None:
                most = min(a.count, places * len(pattern))
                column = draft.goes[g, p] = model.integer(0, most)
                here.append(column)
                strong = min(a.count, places)
                model.row([(column, 1), *((z, -strong) for z, _ in opened)], most=0)
        if places < sum(a.count for a in draft.alike):
            model.row(
                [*((column, 1) for column in here), *((z, -places) for z, _ in opened)], most=0
            )
    mine: dict[int, list[int]] = defaultdict(list)
    for (g, _), column in draft.goes.items():
        mine[g].append(column)
    for g, columns in mine.items():
        model.row([(column, 1) for column in columns], most=draft.alike[g].count)


def _burdens(draft: ParallelDraft) -> None:
    """The columns h, t and M, and the rows that make them what is asked of the members."""
    model = draft.model
    carried = max(member.carried for member in draft.problem.members)
    if any(member.carried % 1 for member in draft.problem.members):
        draft.unit = UNIT
    draft.carried = model.integer(carried / draft.unit, carried / draft.unit)
    draft.hard = model.binary()
    sums: dict[int, dict[int, float]] = defaultdict(dict)
    for (g, p), column in draft.goes.items():
        sums[g][column] = draft.alike[g].carried + draft.cost(g, p)
    at_hard = {column for (g, p), column in draft.goes.items() if draft.cost(g, p) >= HARD}
    for g, mine in sums.items():
        _reached(draft, [column for column in mine if column in at_hard], draft.hard, g)
    levels = sorted({level for mine in sums.values() for level in mine.values()})
    for level in levels:
        if level > carried:
            draft.reached[level] = model.binary()
            for g, mine in sums.items():
                dear = [column for column, after in mine.items() if after >= level]
                _reached(draft, dear, draft.reached[level], g)


def _reached(draft: ParallelDraft, columns: list[int], reached: int, g: int) -> None:
    """The column `reached` is 1 where any of g goes to one of these."""
    if columns:
        count = draft.alike[g].count
        draft.model.row([*((column, 1) for column in columns), (reached, -count)], most=0)
