"""What an offering may be: its length, step and changeover, and the levels it is taught to."""

from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL_MINUTES
from bookings.domain.vocabulary import Grid

SHORTEST, LONGEST = 5, 480
LONGEST_STEP, LONGEST_CHANGEOVER = 240, 120
LOWEST_LEVEL, HIGHEST_LEVEL = 1, 10


def check_lengths(
    *, minutes: int, grid: Grid, step_minutes: int, changeover_minutes: int | None
) -> None:
    """Refused("invalid") unless all are multiples of five minutes within their limits.

    A step of 0 and a changeover of None stand for the usual ones. A packed grid has no step.
    """
    if not SHORTEST <= minutes <= LONGEST or minutes % CELL_MINUTES:
        raise Refused(
            "invalid",
            f"Choose a length between {SHORTEST} and {LONGEST} minutes, in steps of five.",
            field="minutes",
        )
    if not 0 <= step_minutes <= LONGEST_STEP or step_minutes % CELL_MINUTES:
        raise Refused(
            "invalid",
            f"Choose at most {LONGEST_STEP} minutes between starts, in steps of five.",
            field="step_minutes",
        )
    if grid is Grid.PACKED and step_minutes:
        raise Refused(
            "invalid",
            "Lessons that follow one another have no minutes between starts: leave them out.",
            field="step_minutes",
        )
    if changeover_minutes is not None and (
        not 0 <= changeover_minutes <= LONGEST_CHANGEOVER or changeover_minutes % CELL_MINUTES
    ):
        raise Refused(
            "invalid",
            f"Choose a changeover of at most {LONGEST_CHANGEOVER} minutes, in steps of five.",
            field="changeover_minutes",
        )


def check_levels(lowest: int, highest: int) -> None:
    """Refused("invalid") unless both are levels and the lowest is not above the highest."""
    if not LOWEST_LEVEL <= lowest <= highest <= HIGHEST_LEVEL:
        raise Refused(
            "invalid",
            f"Choose levels from {LOWEST_LEVEL} to {HIGHEST_LEVEL}, the lowest first.",
            field="lowest_level",
        )
