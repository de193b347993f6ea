"""How well a start suits the student and the instructor's day, 0-100, with its reasons in words.

Points are whole. A factor's points never fall when that factor gets better, and so the fit never
falls. The words name no other meeting. What a start does to the instructor's day is for instructors
and admins alone: `for_school` in domain.slots says it to them. How many days ahead it lies depends
on the reader's clock: `dated` says that.
"""

from functools import lru_cache
from typing import NamedTuple

MOST_BURDEN = 20
MOST_LOST = 2


class Weights(NamedTuple):
    """The most points of each factor, 100 in all.

    They are the project's own proposal: the student's hour first, then the instructor's day, then
    continuity.
    """

    hour: int = 40
    """For the hour on the student's clock: all at burden 0, none at 20."""
    lost: int = 25
    """For lessons that the instructor's day loses: all at none, half of them, rounded down, at one,
    nothing from two on.
    """
    continuity: int = 20
    """All for the regular instructor, or without one for the instructor of the latest released
    assessment; all where there is neither; else nothing.
    """
    sooner: int = 15
    """For an early date: all within 24 hours, nothing at the horizon."""


WEIGHTS = Weights()


class Factors(NamedTuple):
    """The values that the fit of one start depends on."""

    burden: int
    """0-20, of the whole meeting on the student's clock."""
    lost: int
    """Lessons that the instructor's day loses: see domain.packing."""
    continues: bool | None
    """Whether this is the regular instructor or, without one, the instructor of the latest
    released assessment; None if there is neither.
    """
    days_ahead: int
    """Elapsed days from now, rounded down."""
    horizon_days: int
    has_regular: bool = False
    """Whether the student has a regular instructor."""
    hour: str = ""
    """What the family says of the hour, as a sentence; empty where the curve alone counts."""


@lru_cache(maxsize=8192)
def fit(factors: Factors) -> tuple[int, tuple[str, ...]]:
    """The fit, and one sentence for each factor with something to say to everybody on any clock,
    in the order of Weights.
    """
    lost = min(factors.lost, MOST_LOST)
    points = WEIGHTS.hour * (MOST_BURDEN - min(factors.burden, MOST_BURDEN)) // MOST_BURDEN
    points += WEIGHTS.lost * (MOST_LOST - lost) // MOST_LOST
    if factors.continues is not False:
        points += WEIGHTS.continuity
    days_left = max(factors.horizon_days - factors.days_ahead, 0)
    points += WEIGHTS.sooner * days_left // max(factors.horizon_days, 1)
    words = (factors.hour or _hour(factors.burden), _continuity(factors))
    return points, tuple(sentence for sentence in words if sentence)


def lost_in_words(lost: int) -> str:
    """What a start does to the day of its instructor, for instructors and admins."""
    if not lost:
        return "Costs no lesson that day."
    counted = {1: "one lesson", 2: "two lessons", 3: "three lessons"}
    return f"Would cost {counted.get(lost, f'{lost} lessons')} that day."


def ahead_in_words(days: int) -> str:
    """How many dates of a calendar lie between today, 0, and the date of a start."""
    if days <= 1:
        return "Tomorrow." if days else "Today."
    return f"In {days} days."


def _hour(burden: int) -> str:
    if burden == 0:
        return "An easy hour of the day."
    if burden <= 1:
        return "A little early or late in the day."
    if burden <= 3:
        return "Early or late in the day."
    if burden < MOST_BURDEN:
        return "Very early or very late."
    return "At night."


def _continuity(factors: Factors) -> str:
    if factors.continues is None:
        return ""
    known_as = (
        "regular instructor" if factors.has_regular else "instructor of the latest assessment"
    )
    return f"{'With' if factors.continues else 'Not with'} the {known_as}."
