"""Moments at which everything must hold: each weekday, both changes of clocks, a leap day and the
end of a year.

The machine's own clock is moved, for every process: the product, a library and the harness read
the same time.
The demo's clock starts where DEMO_START says, wherever the machine's is.
"""

import time
from datetime import UTC, datetime
from pathlib import Path

from tests.profiles import NAME, is_thorough

MOMENTS = {
    "monday-just-begun": datetime(2027, 6, 7, 0, 0, 10, tzinfo=UTC),
    "tuesday-leap-day-near-midnight": datetime(2028, 2, 29, 23, 59, 30, tzinfo=UTC),
    "wednesday-noon": datetime(2027, 6, 9, 12, 30, tzinfo=UTC),
    "thursday-evening": datetime(2027, 6, 10, 18, 0, tzinfo=UTC),
    "friday-new-years-eve": datetime(2027, 12, 31, 23, 59, 40, tzinfo=UTC),
    "saturday-evening": datetime(2027, 6, 12, 20, 15, tzinfo=UTC),
    "sunday-clocks-go-forward": datetime(2027, 3, 28, 0, 59, 45, tzinfo=UTC),
    "sunday-clocks-go-back": datetime(2027, 11, 7, 5, 59, 45, tzinfo=UTC),
}
EDGES = [
    "tuesday-leap-day-near-midnight",
    "friday-new-years-eve",
    "sunday-clocks-go-forward",
    "sunday-clocks-go-back",
]
MACHINE = Path(__file__).parent / "machine"
"""On PYTHONPATH it moves the clock of each interpreter that starts."""


def played() -> list[str]:
    """The names of the moments that this run plays."""
    return list(MOMENTS) if is_thorough() else ["saturday-evening"]


def told() -> list[str]:
    """The names of the moments at which this run tells the whole story, half a minute each."""
    return list(MOMENTS) if NAME == "long" else EDGES


def surroundings(name: str) -> dict[str, str]:
    """The environment of a process, and of those that it starts, whose machine is at that moment
    now.
    """
    ahead = MOMENTS[name].timestamp() - time.time()
    return {"PYTHONPATH": str(MACHINE), "TESTS_SECONDS_AHEAD": str(ahead)}
