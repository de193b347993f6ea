"""One run of HiGHS, a free solver of linear models in whole numbers: the only import of highspy.

One thread and a fixed seed, so that a run to the end gives the same values each time.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import accumulate, chain
from math import isfinite

import highspy

from bookings.domain.planning.model import Model, Terms, Values, is_whole_sum, total

SEED = 20270203
WHOLE_GAP = 0.5
"""A whole value is proven by a bound closer than this."""
SLACK = 1e-6
"""How exactly any other value is solved, relative to values above 1."""

Tell = Callable[[float | None, float | None], bool]
"""Called often with the value and the bound so far; False ends the run."""

_IMPOSSIBLE = (
    highspy.HighsModelStatus.kInfeasible,
    highspy.HighsModelStatus.kUnboundedOrInfeasible,
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """`values` are None where none were found; `bound` is None where none was proven."""

    values: Values | None
    bound: float | None
    is_impossible: bool


def minimised(
    model: Model,
    terms: Terms,
    start: Values | None,
    seconds: float,
    tell: Tell,
    *,
    presolve: bool = True,
) -> Outcome:
    """Runs HiGHS until the sum is proven least, the seconds are over, or `tell` says False.

    Values are rounded; those that break a row after that are left out. HiGHS 1.16 can lose
    the cost of columns that it fixes before the search, only where it was given a start; the value
    that it then tells is not that of its own solution, and the run is made again without a start.
    """
    began = time.monotonic()
    highs = _loaded(model, terms, start, seconds)
    highs.setOptionValue("presolve", "choose" if presolve else "off")
    faults = _watched(highs, tell)
    highs.run()
    if faults:
        raise faults[0]
    if start is not None and not _tells_its_value(highs, terms):
        left = max(seconds - (time.monotonic() - began), 0)
        return minimised(model, terms, None, left, tell, presolve=presolve)
    return _outcome(model, highs)


def _tells_its_value(highs: highspy.Highs, terms: Terms) -> bool:
    told = highs.getInfo().objective_function_value
    found = total(terms, tuple(highs.getSolution().col_value))
    return abs(told - found) <= SLACK * max(1.0, abs(found))


def _outcome(model: Model, highs: highspy.Highs) -> Outcome:
    """What a run came to."""
    status, info = highs.getModelStatus(), highs.getInfo()
    values = None
    if info.primal_solution_status == int(highspy.SolutionStatus.kSolutionStatusFeasible):
        values = tuple(float(round(value)) for value in highs.getSolution().col_value)
        if not model.is_solved_by(values):
            values = None
    bound = info.mip_dual_bound if model.low else info.objective_function_value
    return Outcome(values, bound if isfinite(bound) else None, status in _IMPOSSIBLE)


class _Quiet(highspy.Highs):
    """HiGHS, which prints its name at the first call, told to be quiet before that call."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]

    def enableCallbacks(self) -> None:  # noqa: N802
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()  # type: ignore[no-untyped-call]


def _loaded(model: Model, terms: Terms, start: Values | None, seconds: float) -> highspy.Highs:
    highs = _Quiet()
    is_whole = is_whole_sum(terms)
    for name, value in {
        "threads": 1,
        "random_seed": SEED,
        "time_limit": seconds,
        "mip_rel_gap": 0.0 if is_whole else SLACK,
        "mip_abs_gap": WHOLE_GAP if is_whole else SLACK,
    }.items():
        highs.setOptionValue(name, value)
    columns = list(range(len(model.low)))
    highs.addVars(len(columns), model.low, model.high)
    for column in columns:
        highs.changeColIntegrality(column, highspy.HighsVarType.kInteger)
    sums = [_merged(row.terms) for row in model.rows]
    highs.addRows(
        len(sums),
        [row.least for row in model.rows],
        [row.most for row in model.rows],
        sum(map(len, sums)),
        list(accumulate(map(len, sums), initial=0))[:-1],
        list(chain.from_iterable(sums)),
        list(chain.from_iterable(row.values() for row in sums)),
    )
    costs = _merged(terms)
    highs.changeColsCost(len(costs), list(costs), list(costs.values()))
    if start is not None:
        highs.setSolution(len(columns), columns, list(start))
    return highs


def _merged(terms: Terms) -> dict[int, float]:
    """Each column once, with the sum of its coefficients."""
    found: dict[int, float] = {}
    for column, by in terms:
        found[column] = found.get(column, 0.0) + by
    return found


def _watched(highs: highspy.Highs, tell: Tell) -> list[Exception]:
    """Hands progress to `tell`. What `tell` raises ends the run and is in the list afterwards: no
    exception may pass through the solver.
    """
    faults: list[Exception] = []

    def report(event: highspy.HighsCallbackEvent) -> None:
        value, bound = event.data_out.mip_primal_bound, event.data_out.mip_dual_bound
        try:
            is_wanted = tell(value if isfinite(value) else None, bound if isfinite(bound) else None)
        except Exception as fault:
            faults.append(fault)
            is_wanted = False
        if not is_wanted:
            event.interrupt()

    highs.cbMipInterrupt.subscribe(report)
    return faults
