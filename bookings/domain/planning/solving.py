"""Solves a model stage by stage, within one limit of time.

How the order of the stages is kept exact. All columns are whole, so a stage of whole coefficients,
counted in its unit, has a whole value v: a bound above v - 1 proves it, and for the later stages
its row is f <= v with no slack, since each solution is rounded and the rounded values are checked
against every row. Any other stage is solved to, and kept with, a slack of `highs.SLACK` times its
value.

A proven solution is the same each time. What the limit or `watch` ended depends on the speed of
the machine.
"""

import time
from collections.abc import Iterable
from math import ceil

from bookings.domain.planning.fusing import fused, parted, weighted
from bookings.domain.planning.highs import SLACK, Tell, minimised
from bookings.domain.planning.model import (
    TOLERANCE,
    Cuts,
    Model,
    Progress,
    Row,
    Solution,
    Stage,
    StageResult,
    Terms,
    Values,
    Watch,
    is_whole_sum,
    total,
)

WATCH_EVERY = 0.2
"""Seconds between two reports of progress."""


def solve(
    model: Model,
    stages: Iterable[Stage],
    *,
    seconds: float,
    firsts: Iterable[Values] = (),
    watch: Watch | None = None,
    cuts: Cuts | None = None,
    presolve: bool = True,
) -> Solution:
    """The best solution of the stages, in their order, that `seconds` allow for all together.

    `firsts` are first answers: those that keep every row start each stage at the best of them, and
    the solution is never worse than any. `cuts` names the rows that a solution breaks and that were
    too many to write down; it is asked again until it names none. `presolve` shrinks the model
    before each run, which a model of few columns does not earn back.
    """
    run = _Run(model, seconds, watch, cuts)
    run.presolve = presolve
    run.answers = [values for values in firsts if run.is_solved_by(values)]
    results: list[StageResult] = []
    for group in fused(stages):
        found = run.stage(group)
        if not found:
            return Solution(None, (), run.spent(), not run.is_impossible, run.is_impossible)
        results += found
    return Solution(run.best, tuple(results), run.spent(), run.is_stopped)


class _Goal:
    """A stage turned so that its sum, counted in the stage's unit, is always made least."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.unit = -stage.unit if stage.is_most else stage.unit
        self.terms: Terms = [(column, by / self.unit) for column, by in stage.terms]
        self.is_whole = is_whole_sum(self.terms)
        self.known_bound = None if stage.known_bound is None else stage.known_bound / self.unit

    def value(self, values: Values) -> float:
        return total(self.terms, values)

    def slack(self, value: float) -> float:
        return 0.0 if self.is_whole else SLACK * max(1.0, abs(value))

    def raised(self, bound: float) -> float:
        """The bound, raised to the next whole number where the value is one."""
        if not self.is_whole:
            return bound
        return float(ceil(bound - min(TOLERANCE * max(1.0, abs(bound)), 0.4)))

    def is_reached(self, values: Values | None, bound: float | None) -> bool:
        """Whether these values are proven best by the bound."""
        if values is None or bound is None:
            return False
        value = self.value(values)
        return value - self.raised(bound) <= self.slack(value)

    def kept_from(self, values: Values) -> Row:
        """The row of the later stages: no worse than these values."""
        value = self.value(values)
        return Row(self.terms, most=value + self.slack(value))

    def result(self, values: Values, bound: float | None) -> StageResult:
        value = self.value(values)
        if bound is not None:
            bound = self.unit * min(self.raised(bound), value)
        return StageResult(self.stage.name, self.unit * value + 0.0, bound)


class _Run:
    """One solve: the rows so far, the answers that keep them all, the time."""

    def __init__(
        self, model: Model, seconds: float, watch: Watch | None, cuts: Cuts | None
    ) -> None:
        self.model = Model(model.low, model.high, list(model.rows))
        self.seconds, self.watch, self.cuts = seconds, watch, cuts
        self.began = time.monotonic()
        self.told_at = self.began - WATCH_EVERY
        self.presolve = True
        self.answers: list[Values] = []
        self.best: Values | None = None
        self.is_stopped = self.is_impossible = False

    def spent(self) -> float:
        return time.monotonic() - self.began

    def is_solved_by(self, values: Values) -> bool:
        return self.model.is_solved_by(values) and not self.broken_by(values)

    def broken_by(self, values: Values) -> list[Row]:
        return [] if self.cuts is None else list(self.cuts(values))

    def stage(self, group: tuple[Stage, ...]) -> tuple[StageResult, ...]:
        """Solves stages together and makes their values rows; nothing if there is no solution."""
        goal = _Goal(weighted(group))
        self.best = min(self.answers, key=goal.value, default=None)
        bound = self.improved(goal)
        if self.best is None:
            return ()
        kept = [_Goal(stage).kept_from(self.best) for stage in group]
        self.model.rows += kept
        self.answers = [
            values for values in self.answers if all(row.is_kept_by(values) for row in kept)
        ]
        return parted(group, self.best, goal.result(self.best, bound))

    def improved(self, goal: _Goal) -> float | None:
        """Betters `best` while the time allows; returns the greatest bound that was proven."""
        bound = goal.known_bound
        is_cut = True
        while is_cut and not goal.is_reached(self.best, bound) and self.may_go_on(goal):
            left = self.seconds - self.spent()
            tell, presolve = self.teller(goal), self.presolve
            found = minimised(self.model, goal.terms, self.best, left, tell, presolve=presolve)
            if found.bound is not None:
                bound = found.bound if bound is None else max(bound, found.bound)
            broken = [] if found.values is None else self.broken_by(found.values)
            self.model.rows += broken
            if found.values is not None and not broken:
                self.answers.append(found.values)
                self.best = min(self.answers, key=goal.value)
            self.is_impossible = found.is_impossible and self.best is None
            is_cut = bool(broken)
        if not goal.is_reached(self.best, bound) and not self.is_impossible:
            self.is_stopped |= self.spent() >= self.seconds
        return bound

    def may_go_on(self, goal: _Goal) -> bool:
        """Whether there is time left and nobody stopped the solve."""
        return self.spent() < self.seconds and self.tell(goal, None, None)

    def teller(self, goal: _Goal) -> Tell:
        """Reports the progress of a run a few times a second."""

        def tell(value: float | None, bound: float | None) -> bool:
            if time.monotonic() - self.told_at < WATCH_EVERY:
                return not self.is_stopped
            return self.tell(goal, value, bound)

        return tell

    def tell(self, goal: _Goal, value: float | None, bound: float | None) -> bool:
        """Reports progress; False where the solve is to stop."""
        self.told_at = time.monotonic()
        if self.watch is not None and not self.is_stopped:
            self.is_stopped = not self.watch(
                Progress(
                    goal.stage.name,
                    None if value is None else goal.unit * value,
                    None if bound is None else goal.unit * bound,
                    self.spent(),
                )
            )
        return not self.is_stopped
