"""How a plan is solved: how long a worker may hold it, and how often it is taken up."""

from dataclasses import dataclass
from datetime import timedelta
from math import isfinite
from typing import Any, Self

from bookings.domain.planning.model import Answer

LEASE = timedelta(seconds=90)
"""A worker that has said nothing for so long is taken for dead. It speaks every few seconds, but
the solver may be silent for a minute.
"""
MOST_ATTEMPTS = 3
"""A plan whose worker has died that often has failed."""
PATIENCE_SECONDS = 60
"""How long the solver may look for the best answer, unless somebody asks for another time."""
MOST_SECONDS = 600
FAMILIES_COSTS = "burdens"
"""The part of an answer that says what hours cost families. Admins alone read it."""


@dataclass(frozen=True, slots=True)
class Solved:
    """The answer of one solve as plain values, in the form of its kind.

    `gap` is at most how much worse it is than the best, in the scale of the stage that is worst
    off; 0 when it is proven, None when the solver had no time to find out. `is_stopped` where the
    time was over or somebody asked to stop.
    """

    answer: dict[str, Any]
    gap: float | None
    is_stopped: bool

    @classmethod
    def of(cls, answer: dict[str, Any], decision: Answer) -> Self:
        """The answer in plain values, with what the decision tells of its proof."""
        gap = decision.gap if isfinite(decision.gap) else None
        return cls(answer, gap, decision.is_stopped)
