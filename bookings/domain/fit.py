"""How well a start suits the student and the instructor's day, 0-100, with its reasons in words.

Points are whole and each factor's rise or stay when that factor alone gets better, so the fit does too. The words name no
other meeting: they may be shown to everybody.
"""

from functools import lru_cache
from typing import NamedTuple

MOST_BURDEN = 20
MOST_STRANDED = 60


class Weights(NamedTuple):
    """Points of the fit, 100 in all. The project's own proposal: the student's hour first, the instructor's day and the continuity next."""

    hour: int = 40
    """What the hour costs the student: all at burden 0, none at 20."""
    stranded: int = 25
    """Minutes beside the meeting that become too short for any offering: all at none, nothing from an hour on."""
    continuity: int = 20
    """The instructor of the latest released assessment, or no assessment yet: all; another instructor: nothing."""
    sooner: int = 15
    """Whole days ahead: all within 24 hours, nothing at the horizon."""


WEIGHTS = Weights()


class Factors(NamedTuple):
    """What the fit of one start is made of."""

    burden: int
    """0-20, of the whole meeting on the student's clock."""
    stranded_minutes: int
    continues: bool | None
    """Whether the instructor is that of the latest released assessment; None where there is none."""
    days_ahead: int
    """Elapsed days from now, rounded down."""
    horizon_days: int


@lru_cache(maxsize=8192)
def fit(factors: Factors) -> tuple[int, tuple[str, ...]]:
    """The fit, and one sentence for each factor that has something to say, the weightiest first."""
    burden, stranded, days = (
        factors.burden,
        min(factors.stranded_minutes, MOST_STRANDED),
        factors.days_ahead,
    )
    points = WEIGHTS.hour * (MOST_BURDEN - burden) // MOST_BURDEN
    points += WEIGHTS.stranded * (MOST_STRANDED - stranded) // MOST_STRANDED
    points += 0 if factors.continues is False else WEIGHTS.continuity
    points += WEIGHTS.sooner * max(factors.horizon_days - days, 0) // max(factors.horizon_days, 1)
    return points, tuple(
        filter(
            None, (_hour(burden), _stranded(stranded), _continuity(factors.continues), _ahead(days))
        )
    )


def _hour(burden: int) -> str:
    kinds = (
        (0, "An easy hour of the day."),
        (1, "A little early or late in the day."),
        (3, "Early or late in the day."),
    )
    return next(
        (words for most, words in kinds if burden <= most),
        "Very early or very late." if burden < MOST_BURDEN else "At night.",
    )


def _stranded(minutes: int) -> str:
    return (
        "Leaves the instructor a gap too short to teach in."
        if minutes
        else "Leaves no gap too short to teach in."
    )


def _continuity(continues: bool | None) -> str:
    if continues is None:
        return ""
    return (
        "With the instructor of the latest assessment."
        if continues
        else "Not with the instructor of the latest assessment."
    )


def _ahead(days: int) -> str:
    return f"In {days} day{'' if days == 1 else 's'}." if days else "Within 24 hours."
