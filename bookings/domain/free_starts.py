"""Where an instructor could begin a meeting, whoever comes to it."""

from datetime import datetime

from bookings.domain.grid import starts_on_grid
from bookings.domain.load import barred, bars
from bookings.domain.parties import InstructorTime, OfferingRules
from bookings.domain.policy import Policy
from bookings.domain.timeline import CELL, Horizon, bits, runs


def free_starts(
    rules: OfferingRules,
    instructor: InstructorTime,
    policy: Policy,
    since: datetime,
    until: datetime,
) -> list[datetime]:
    """Every start in [since, until), UTC, in order.

    It lies in the teaching hours and on the grid, clears busy times, other meetings and the
    changeover, and keeps the load. Lead time and horizon are those of families, and not asked.
    """
    horizon = Horizon.spanning(since, until + rules.held_cells * CELL)
    hours = instructor.teachable(horizon) & ~horizon.busy_mask(instructor.busy)
    unheld = horizon.full & ~horizon.busy_mask(instructor.meetings)
    starts = (
        horizon.between(horizon.index_from(since), horizon.index_from(until))
        & runs(hours, rules.meeting_cells)
        & runs(unheld, rules.held_cells)
        & starts_on_grid(
            rules.grid, rules.step_minutes, instructor.time_zone, instructor.teaching, horizon
        )
    )
    taught, zone = instructor.taught, instructor.time_zone
    starts &= ~barred(bars(taught, zone, rules.minutes, policy, horizon), horizon)
    return [horizon.instant(i) for i in bits(starts)]
