"""A series as a model: everybody who takes part goes to every meeting.

Unknowns: z_o, whether option o is chosen; y_g, whether the members g, alike, take part (each member
alone where there are fewer places than members); w_g, the new burden of each of them; h and M, the
values "hard" and "greatest" (M as a whole number of UNITs). With K meetings, places C, n_g members
and costs c_go:

    sum_o z_o = K;  sum_o z_o <= 1 in every set that excludes another;  sum_g n_g y_g <= C
    sum of z_o over the options that g can come to          >= K y_g
    sum of z_o over those of burden HARD or more for g      <= K (h + 1 - y_g)
    w_g >= sum_o c_go z_o - K max(c_g) (1 - y_g);  M >= carried_g + w_g;  M >= carried of all others

The second line of rows is exact because K options are chosen in all: one that g cannot come to
leaves fewer than K of the others.
"""

from dataclasses import dataclass

from bookings.domain.burden import HARD
from bookings.domain.planning.group import UNIT, Band, GroupProblem
from bookings.domain.planning.group_options import Alike, Counts, Option, exclusive, simple_bounds
from bookings.domain.planning.model import Model, Stage, Terms, Values


@dataclass(slots=True)
class SeriesDraft:
    """The model of one problem and what its columns mean."""

    problem: GroupProblem
    options: tuple[Option, ...]
    alike: list[Alike]
    meetings: int
    model: Model
    opens: list[int]
    takes: list[int]
    new: list[int]
    hard: int
    greatest: int
    bands: dict[Band, int]

    def stages(self, *, is_everyone: bool) -> list[Stage]:
        """The objectives in order. `is_everyone`: all are known to be placed in the best plans."""
        greatest, least_sum = simple_bounds(
            self.alike, UNIT * self.model.low[self.greatest], is_everyone, self.meetings
        )
        counted = [(column, a.count) for column, a in zip(self.takes, self.alike, strict=True)]
        burdens = [(column, a.count) for column, a in zip(self.new, self.alike, strict=True)]
        ranks = [(z, o.number) for z, o in zip(self.opens, self.options, strict=True)]
        most = min(self.problem.places, sum(a.count for a in self.alike))
        return [
            Stage("placed", counted, is_most=True, known_bound=most),
            Stage("hard", [(self.hard, 1)], known_bound=0),
            Stage("greatest", [(self.greatest, UNIT)], known_bound=greatest, unit=UNIT),
            Stage("sum", burdens, known_bound=least_sum),
            Stage("earliest", ranks),
        ]

    def fixed_to(self, chosen: set[int]) -> Model:
        """The model in which only these options may be chosen."""
        high = list(self.model.high)
        for i, column in enumerate(self.opens):
            if i not in chosen:
                high[column] = 0
        return Model(self.model.low, high, self.model.rows)

    def values_of(self, chosen: Counts) -> Values:
        """The values of a first answer, where `chosen` has who goes to each option."""
        values = [0.0] * len(self.model.low)
        takes = {g for here in chosen.values() for g in here}
        greatest = UNIT * self.model.low[self.greatest]
        for i in chosen:
            values[self.opens[i]] = 1
        for g in takes:
            paid = [self.alike[g].costs[i] or 0 for i in chosen]
            values[self.takes[g]], values[self.new[g]] = 1, sum(paid)
            values[self.hard] = max(values[self.hard], max(paid) >= HARD)
            greatest = max(greatest, self.alike[g].carried + sum(paid))
        values[self.greatest] = greatest / UNIT
        for band, column in self.bands.items():
            values[column] = any(self.options[i].band == band for i in chosen)
        return tuple(values)

    def going(self, values: Values) -> dict[int, tuple[int, ...]]:
        """Chosen options, each with the members who go there; none if nobody does."""
        members = tuple(
            member
            for column, alike in zip(self.takes, self.alike, strict=True)
            if values[column] > 0.5
            for member in alike.members
        )
        if not members:
            return {}
        return {i: members for i, column in enumerate(self.opens) if values[column] > 0.5}


def series_draft(
    problem: GroupProblem, options: tuple[Option, ...], alike: list[Alike], meetings: int
) -> SeriesDraft:
    """The model of `meetings` meetings among the options."""
    model = Model()
    opens = [model.binary() for _ in options]
    takes = [model.binary() for _ in alike]
    carried = max(member.carried for member in problem.members)
    dearest = [max(cost for cost in a.costs if cost is not None) for a in alike]
    new = [model.integer(0, meetings * most) for most in dearest]
    highest = carried + meetings * max(dearest)
    greatest, hard = model.integer(carried / UNIT, highest / UNIT), model.binary()
    model.row([(z, 1) for z in opens], least=meetings, most=meetings)
    for near in exclusive(problem, options):
        model.row([(opens[i], 1) for i in near], most=1)
    bands = _one_band(model, options, opens)
    model.row([(y, a.count) for y, a in zip(takes, alike, strict=True)], most=problem.places)
    for a, y, w, most in zip(alike, takes, new, dearest, strict=True):
        able = [(z, 1.0) for z, cost in zip(opens, a.costs, strict=True) if cost is not None]
        model.row([*able, (y, -meetings)], least=0)
        at_hard = [
            (z, 1.0) for z, cost in zip(opens, a.costs, strict=True) if cost and cost >= HARD
        ]
        if at_hard:
            model.row([*at_hard, (hard, -meetings), (y, meetings)], most=meetings)
        paid: Terms = [(z, -cost) for z, cost in zip(opens, a.costs, strict=True) if cost]
        model.row([(w, 1), *paid, (y, -meetings * most)], least=-meetings * most)
        model.row([(greatest, UNIT), (w, -1)], least=a.carried)
    return SeriesDraft(
        problem, options, alike, meetings, model, opens, takes, new, hard, greatest, bands
    )


def _one_band(model: Model, options: tuple[Option, ...], opens: list[int]) -> dict[Band, int]:
    """Every meeting of a series is for the same band: a column a band, whether it is used."""
    bands = dict.fromkeys(option.band for option in options if option.band is not None)
    used = {band: model.binary() for band in bands}
    if used:
        model.row([(column, 1) for column in used.values()], most=1)
    for z, option in zip(opens, options, strict=True):
        if option.band is not None:
            model.row([(z, 1), (used[option.band], -1)], most=0)
    return used
