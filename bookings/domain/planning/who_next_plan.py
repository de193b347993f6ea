"""Plans who is next, as a model in whole numbers.

Columns, each 0 or 1: x(s, t), student s is proposed start t; y(c), where c is a start together with
a length and a changeover, and y(c) the sum of x(s, t) over those whom c fits. Rows:

- each student is proposed at most one start;
- of c that lie over each other at most one is used: a row for each instant at which one begins,
  which is enough for stretches of time;
- the load, found where a solution breaks it: the seconds taught in a day or week are at most its
  limit, and of a set of lessons that break a rule together, not all are taught.

A plan made one student after the other is the first answer.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice

from bookings.domain.planning.load_limits import Breach, LoadLimits, seconds_in
from bookings.domain.planning.model import Model, Row, Stage, Values, Watch
from bookings.domain.planning.solving import solve
from bookings.domain.planning.who_next import (
    OTHERS,
    DueStudent,
    FreeStart,
    Proposal,
    Unreached,
    WhoNext,
    WhoNextProblem,
)
from bookings.domain.timeline import CELL, EPOCH, Horizon, Period
from bookings.domain.wall import Seconds, seconds

SECONDS = 10.0


def plan_who_next(
    problem: WhoNextProblem, *, seconds: float = SECONDS, watch: Watch | None = None
) -> WhoNext:
    """The best plan that `seconds` allow; `planning.who_next` says what is best."""
    made = _WhoNextModel(problem)
    greedy = made.greedy()
    found = solve(
        made.model,
        made.stages(),
        seconds=seconds,
        firsts=[greedy],
        watch=watch,
        cuts=made.broken,
        presolve=False,
    )
    chosen = made.chosen(found.values or greedy)
    by_time = sorted(chosen, key=lambda one: (one.start.starts_at, one.student.student_id))
    reached = {one.student.student_id for one in chosen}
    return WhoNext(
        tuple(
            Proposal(one.student.student_id, one.start, made.others(one, chosen)) for one in by_time
        ),
        tuple(
            (student.student_id, Unreached.NEEDED if student.starts else Unreached.NO_TIME)
            for student in problem.students
            if student.student_id not in reached
        ),
        stages=found.stages,
        seconds=found.seconds,
        is_stopped=found.is_stopped,
    )


@dataclass(frozen=True, slots=True)
class _Use:
    """A start together with a length and a changeover, with its column."""

    column: int
    taught: Period
    held: Period


@dataclass(frozen=True, slots=True)
class _Choice:
    """A student and one of their starts, with its column."""

    student: DueStudent
    start: FreeStart
    use: _Use
    column: int


class _WhoNextModel:
    """The columns and rows of one problem, and the way back from a solution to it."""

    def __init__(self, problem: WhoNextProblem) -> None:
        self.model = Model()
        self.load = LoadLimits(problem.taught, problem.time_zone, problem.policy)
        self.choices: dict[int, list[_Choice]] = {}
        uses: dict[tuple[Period, Period], _Use] = {}
        for student in problem.students:
            choices = []
            for start in student.starts:
                taught, held = student.taught(start), student.held(start)
                if (taught, held) not in uses:
                    uses[taught, held] = _Use(self.model.binary(), taught, held)
                use = uses[taught, held]
                choices.append(_Choice(student, start, use, self.model.binary()))
            self.choices[student.student_id] = choices
            self.model.row([(one.column, 1) for one in choices], most=1)
        self.uses = list(uses.values())
        self.horizon = self._horizon()
        self._sum_up()
        self._one_at_a_time()
        self.foresee()

    def stages(self) -> list[Stage]:
        """What counts, in its order, each with what the students alone allow."""
        able = [choices for choices in self.choices.values() if choices]
        days = [(one.column, one.student.weight) for one in self._all()]
        return [
            Stage(
                "reached",
                [(one.column, 1) for one in self._all()],
                is_most=True,
                known_bound=len(able),
            ),
            Stage(
                "unseen",
                days,
                is_most=True,
                known_bound=sum(choices[0].student.weight for choices in able),
            ),
            Stage("burden", [(one.column, one.start.burden) for one in self._all()], known_bound=0),
        ]

    def chosen(self, values: Values) -> list[_Choice]:
        return [one for one in self._all() if values[one.column]]

    def broken(self, values: Values) -> list[Row]:
        """The rows of load that a solution breaks."""
        return self._rows_of([one.use for one in self.chosen(values)])

    def foresee(self) -> None:
        """Writes the rows that full days would break: starts packed one after the other, and again
        those that are left, until each was part of a full day.
        """
        left = sorted(self.uses, key=lambda use: (use.held.starts_at, use.held.ends_at))
        while left:
            packed: list[_Use] = []
            for use in left:
                if not packed or packed[-1].held.ends_at <= use.held.starts_at:
                    packed.append(use)
            self.model.rows += self._rows_of(packed)
            left = [use for use in left if use not in packed]

    def _rows_of(self, taught: Iterable[_Use]) -> list[Row]:
        """The rows that these lessons, no two at once, break."""
        lessons = {use.column: use.taught for use in taught}
        rows: dict[frozenset[Period] | Seconds, Row] = {}
        for column in lessons:
            for breach in self.load.breaches(column, lessons):
                together = frozenset(lessons[one] for one in (column, *breach.others))
                if (breach.within or together) not in rows:
                    rows[breach.within or together] = self._row(breach, together)
        return list(rows.values())

    def greedy(self) -> Values:
        """Each student in turn, the longest unseen first, gets the easiest start that is left."""
        chosen: list[_Choice] = []
        able = [choices for choices in self.choices.values() if choices]
        for choices in sorted(able, key=lambda those: -those[0].student.weight):
            chosen += islice(self._easiest(choices, chosen), 1)
        values = [0.0] * len(self.model.low)
        for one in chosen:
            values[one.column] = values[one.use.column] = 1.0
        return tuple(values)

    def others(self, first: _Choice, chosen: Iterable[_Choice]) -> tuple[FreeStart, ...]:
        """More starts for the student of a chosen one, each good in its place."""
        beside = [one for one in chosen if one is not first]
        found: list[_Choice] = []
        for one in self._easiest(self.choices[first.student.student_id], beside):
            if len(found) < OTHERS and not _overlaps(one, (first, *found)):
                found.append(one)
        return tuple(one.start for one in found)

    def _all(self) -> Iterator[_Choice]:
        for choices in self.choices.values():
            yield from choices

    def _horizon(self) -> Horizon:
        """From the first start to the last."""
        starts = [use.taught.starts_at for use in self.uses]
        if not starts:
            return Horizon(EPOCH, 0)
        return Horizon.spanning(min(starts), max(starts) + CELL)

    def _sum_up(self) -> None:
        whose: dict[int, list[int]] = {}
        for one in self._all():
            whose.setdefault(one.use.column, []).append(one.column)
        for use, columns in whose.items():
            self.model.row([(use, -1), *((column, 1) for column in columns)], least=0, most=0)

    def _one_at_a_time(self) -> None:
        for at in sorted({use.held.starts_at for use in self.uses}):
            over = [use for use in self.uses if use.held.starts_at <= at < use.held.ends_at]
            self.model.row([(use.column, 1) for use in over], most=1)

    def _easiest(self, choices: list[_Choice], beside: list[_Choice]) -> Iterator[_Choice]:
        """A student's choices that can be taught beside others, by burden and then by time."""
        in_order = sorted(choices, key=lambda one: (one.start.burden, one.start.starts_at))
        student, taught = choices[0].student, [one.use.taught for one in beside]
        barred = self.load.bars(student.minutes, taught, self.horizon)
        for one in in_order:
            at = seconds(one.start.starts_at)
            is_barred = any(bar.since <= at < bar.until for bar in barred)
            if not is_barred and not _overlaps(one, beside):
                yield one

    def _row(self, breach: Breach, together: frozenset[Period]) -> Row:
        """Holds a breach for every student: sums of y, whoever it is that comes."""
        if breach.within is None:
            terms = [(use.column, 1) for use in self.uses if use.taught in together]
            return Row(terms, most=len(together) - 1)
        left = breach.limit - self.load.fixed_seconds(breach.within)
        parts = [(use.column, seconds_in(use.taught, breach.within)) for use in self.uses]
        return Row([part for part in parts if part[1]], most=max(left, 0))


def _overlaps(one: _Choice, others: Iterable[_Choice]) -> bool:
    return any(one.use.held.overlaps(other.use.held) for other in others)
