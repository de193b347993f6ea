"""A seed that fails is told with the shortest script that still fails."""

import time
import traceback
from collections import Counter
from collections.abc import Sequence

from tests.races.simulation.play import Play, Step, script
from tests.races.simulation.school import School

SECONDS = 60.0


def play_seed(school: School, seed: int, steps: int, seen: Counter[str]) -> str:
    """Empty where all holds; else the seed, the shortest script found and what did not hold. `seen`
    counts what happened.
    """
    whole = script(seed, steps)
    failed = _failure(school, seed, whole, seen)
    if failed is None:
        return ""
    at, error = failed
    shortest, error = _shortest(school, seed, whole[:at], error)
    told = [f"  {i}. {step.name} ({step.salt})" for i, step in enumerate(shortest, 1)]
    trace = "".join(traceback.format_exception(error))
    return "\n".join(
        [
            f"seed {seed} fails after {at} of {steps} steps; {len(shortest)} are enough:",
            *told,
            trace,
        ]
    )


def _failure(
    school: School, seed: int, steps: Sequence[Step], seen: Counter[str] | None = None
) -> tuple[int, Exception] | None:
    play = Play(school, seed)
    try:
        play.run(steps)
    except Exception as error:  # a fault of the product is as good a find as a broken promise
        return play.played, error
    if seen is not None:
        seen += play.seen()
    return None


def _shortest(
    school: School, seed: int, steps: list[Step], error: Exception
) -> tuple[list[Step], Exception]:
    """Leaves out ever smaller stretches as long as the same kind of error stays, for a minute at
    most.
    """
    until, width = time.monotonic() + SECONDS, max(len(steps) // 2, 1)
    while time.monotonic() < until:
        at, shorter = 0, False
        while at < len(steps) and time.monotonic() < until:
            fewer = [*steps[:at], *steps[at + width :]]
            again = _failure(school, seed, fewer)
            if again is not None and type(again[1]) is type(error):
                steps, error, shorter = fewer[: again[0]], again[1], True
            else:
                at += width
        if width == 1 and not shorter:
            break
        width = max(width // 2, 1)
    return steps, error
