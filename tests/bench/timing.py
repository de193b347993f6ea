"""Medians of runs in one process: a figure is timed beside what it is compared with, in turn, so
that both meet the same machine.
"""

import gc
import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

_LOOPS = 200_000


def calibration_ms(clock: Callable[[], float] = time.perf_counter) -> float:
    """Milliseconds of a fixed loop of plain Python, the best of five: how fast this machine is just
    now. `clock` gives the seconds that count, such as those of the processor alone.
    """
    return round(min(seconds_of(_loop, clock=clock) for _ in range(5)) * 1e3, 1)


def _loop() -> int:
    total = 0
    for number in range(_LOOPS):
        total = (total * 31 + number) % 1_000_003
    return total


@dataclass(frozen=True, slots=True)
class Paired:
    """Median seconds of two pieces of work run in turn, and the median over the pairs of the
    second's time over the first's.
    """

    first: float
    second: float
    ratio: float


def seconds_of(
    work: Callable[[], object], times: int = 1, clock: Callable[[], float] = time.perf_counter
) -> float:
    """Seconds of one call, over `times` calls in a row.

    Garbage is collected before and not within.
    """
    gc.collect()
    gc.disable()
    try:
        began = clock()
        for _ in range(times):
            work()
        return (clock() - began) / times
    finally:
        gc.enable()


def median_of(work: Callable[[], object], *, runs: int, times: int = 1) -> float:
    """The median of `runs` measurements in seconds, after one that is not counted."""
    work()
    return median(seconds_of(work, times) for _ in range(runs))


def paired(
    first: Callable[[], object], second: Callable[[], object], *, runs: int, times: int = 1
) -> Paired:
    """Both in turn; `times` calls of the first stand against one of the second."""
    first(), second()
    pairs = [(seconds_of(first, times), seconds_of(second)) for _ in range(runs)]
    return Paired(
        median(a for a, _ in pairs), median(b for _, b in pairs), median(b / a for a, b in pairs)
    )
