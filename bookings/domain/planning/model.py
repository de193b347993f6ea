"""A small builder of linear models in whole numbers, and what their solution is told as.

A model is a list of columns (unknowns) and of rows (conditions on sums of columns). Stages are
objectives in order of importance: the first is made best, then the second among all solutions with
the best first, and so on. `planning.solving` solves them.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from math import inf

TOLERANCE = 1e-6
"""How far a value may be from a bound, a row or a whole number, relative to values above 1."""

Terms = Sequence[tuple[int, float]]
"""A sum of columns: (column, coefficient). A column named twice counts twice."""
Values = tuple[float, ...]
"""One value for each column of a model, in the order in which the columns were made."""


@dataclass(frozen=True, slots=True)
class Row:
    """least <= sum of terms <= most."""

    terms: Terms
    least: float = -inf
    most: float = inf

    def is_kept_by(self, values: Values) -> bool:
        at = total(self.terms, values)
        slack = TOLERANCE * max(1.0, abs(at))
        return self.least - slack <= at <= self.most + slack


Cuts = Callable[[Values], Iterable[Row]]
"""The rows that a solution breaks and that the model does not hold yet; none if all is kept."""


@dataclass(slots=True)
class Model:
    """Columns of whole values with bounds, and rows. Who makes a column gets its index."""

    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)

    def binary(self) -> int:
        """A column that is 0 or 1."""
        return self.integer(0, 1)

    def integer(self, low: float, high: float) -> int:
        """A column from low to high; `inf` means no bound."""
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1

    def row(self, terms: Terms, *, least: float = -inf, most: float = inf) -> None:
        """least <= sum of terms <= most."""
        self.rows.append(Row(tuple(terms), least, most))

    def is_solved_by(self, values: Values) -> bool:
        """Whether the values are whole, and keep every bound and row."""
        if len(values) != len(self.low):
            return False
        for low, value, high in zip(self.low, values, self.high, strict=True):
            if not low - TOLERANCE <= value <= high + TOLERANCE or not float(value).is_integer():
                return False
        return all(row.is_kept_by(values) for row in self.rows)


@dataclass(frozen=True, slots=True)
class Stage:
    """One objective: `terms` are made least, or most where `is_most`."""

    name: str
    terms: Terms
    is_most: bool = False
    known_bound: float | None = None
    """A bound that the caller has proven for this stage: a first answer that reaches it needs no
    solver. None if there is none.
    """
    worst: float | None = None
    """The value at the other end: with `known_bound` the range of the stage in every solution of
    the model, best or not. Neighbours of known range are solved together.
    """
    unit: float = 1
    """What the coefficients are whole multiples of, where they are."""


@dataclass(frozen=True, slots=True)
class Progress:
    """What a running solve can tell: in the stage `stage`, the value and the bound so far, both
    None while unknown, and seconds since the solve began. Stages that are solved together have
    their names in one line, and the value and bound of their weighted sum.
    """

    stage: str
    value: float | None
    bound: float | None
    seconds: float


Watch = Callable[[Progress], bool]
"""Called a few times a second; False stops the solve with the best answer so far."""


@dataclass(frozen=True, slots=True)
class StageResult:
    """What one stage came to. `bound` is None where the stage was never begun."""

    name: str
    value: float
    bound: float | None

    @property
    def gap(self) -> float:
        """|value - bound| over |value|, or over 1 where the value is less; infinite without a
        bound.
        """
        if self.bound is None:
            return inf
        return abs(self.value - self.bound) / max(1.0, abs(self.value))

    @property
    def is_proven(self) -> bool:
        return self.gap <= TOLERANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What every joint decision tells of its proof. `seconds` is how long it took.

    Where `is_stopped`, the time limit or `watch` ended the solve. Without stages nothing was to
    decide or, where `is_stopped`, nothing was found in time.
    """

    stages: tuple[StageResult, ...] = ()
    seconds: float = 0
    is_stopped: bool = False

    @property
    def gap(self) -> float:
        """The greatest gap of a stage; 0 where nothing was to decide."""
        return max((stage.gap for stage in self.stages), default=inf if self.is_stopped else 0.0)

    @property
    def is_proven(self) -> bool:
        return self.gap <= TOLERANCE

    @property
    def values(self) -> dict[str, float]:
        return {stage.name: stage.value for stage in self.stages}


@dataclass(frozen=True, slots=True)
class Solution:
    """The values of all columns and what each stage came to, in the order of the stages.

    `values` is None where the model has no solution, or none was found in time; `is_impossible`
    tells which. `is_stopped`: the time limit or `watch` ended the solve.
    """

    values: Values | None
    stages: tuple[StageResult, ...]
    seconds: float
    is_stopped: bool
    is_impossible: bool = False

    @property
    def is_proven(self) -> bool:
        return bool(self.stages) and all(stage.is_proven for stage in self.stages)

    @property
    def gap(self) -> float:
        """The greatest gap of a stage."""
        return max((stage.gap for stage in self.stages), default=inf)


def is_whole_sum(terms: Terms) -> bool:
    """Whether the sum is a whole number in every solution."""
    return all(float(by).is_integer() for _, by in terms)


def total(terms: Terms, values: Values) -> float:
    return sum(by * values[column] for column, by in terms)
