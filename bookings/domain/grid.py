"""Where an offering's starts may fall, as cells."""

from functools import lru_cache

from bookings.domain.hours import DAY_MINUTES, TeachingTime, window_periods
from bookings.domain.timeline import CELL, CELL_MINUTES, EPOCH, Horizon
from bookings.domain.vocabulary import Grid
from bookings.domain.wall import DAY, seconds, spans

_CELL_SECONDS = CELL_MINUTES * 60


def starts_on_grid(
    grid: Grid, step_minutes: int, time_zone: str, teaching: TeachingTime, horizon: Horizon
) -> int:
    """The cells in which a meeting may start on a grid that asks only for hours and a step.

    Grid.CLOCK: multiples of the step, counted from midnight on the zone's wall clock; a repeated
    hour has its starts twice. Grid.WINDOW: a chain in elapsed time from the start of each window; a
    window that opens in a gap chains from its first real instant.
    """
    if grid is Grid.CLOCK:
        return _clock_grid(step_minutes, time_zone, horizon)
    return _window_grid(step_minutes, teaching, horizon)


@lru_cache(maxsize=256)
def _clock_grid(step_minutes: int, time_zone: str, horizon: Horizon) -> int:
    since = seconds(horizon.starts_at)
    until = since + horizon.cells * _CELL_SECONDS
    day_pattern = sum(
        1 << i for i in range(0, DAY_MINUTES // CELL_MINUTES, step_minutes // CELL_MINUTES)
    )
    mask = 0
    for span in spans(time_zone, since, until):
        if span.offset % _CELL_SECONDS:
            continue  # a local mean time with seconds: no minute of it starts a cell
        pattern = 0
        midnight = (max(span.since, since) + span.offset) // DAY * DAY - span.offset
        for day_since in range(midnight, min(span.until, until), DAY):
            shift = (day_since - since) // _CELL_SECONDS
            pattern |= day_pattern << shift if shift >= 0 else day_pattern >> -shift
        mask |= pattern & horizon.between(
            -((since - span.since) // _CELL_SECONDS), -((since - span.until) // _CELL_SECONDS)
        )
    return mask


def _window_grid(step_minutes: int, teaching: TeachingTime, horizon: Horizon) -> int:
    step = step_minutes // CELL_MINUTES
    mask = 0
    for window in window_periods(teaching, horizon):
        if (window.starts_at - EPOCH) % CELL:
            continue
        first = horizon.index(window.starts_at)
        for i in range(
            first if first >= 0 else first % step,
            min(horizon.index(window.ends_at), horizon.cells),
            step,
        ):
            mask |= 1 << i
    return mask
