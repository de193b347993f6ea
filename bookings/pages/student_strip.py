"""A weekday of a student's week as a strip: the taller an hour, the better they can come."""

from collections.abc import Sequence
from dataclasses import dataclass

from bookings.domain.burden import HARD
from bookings.domain.hours import DAY_MINUTES
from bookings.domain.weekly_costs import Hour, stretches_of
from bookings.pages.ribbon import Ribbon, draw_wall, percent

HEIGHT = 56
_GLADLY = 52
_HEIGHTS = {0: 40, 1: 30, 3: 20, HARD: 10}
"""By burden; anything above is not drawn at all. An hour marked “gladly” is the tallest."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Hours of one burden: a box on the floor of the strip, `x` and `width` in percent."""

    x: str
    width: str
    y: int
    height: int


@dataclass(frozen=True, slots=True)
class WelcomeStrip:
    """One weekday: its scale and its nights as on every ribbon, and its hours by burden."""

    ribbon: Ribbon
    stretches: list[Stretch]


def draw_welcome(day: Sequence[Hour]) -> WelcomeStrip:
    """The hours of one day, one for each 5-minute cell."""
    return WelcomeStrip(
        draw_wall([]),
        [
            Stretch(
                percent(opens / DAY_MINUTES),
                percent((closes - opens) / DAY_MINUTES),
                HEIGHT - _height(hour),
                _height(hour),
            )
            for opens, closes, hour in stretches_of(day)
            if hour.cost in _HEIGHTS
        ],
    )


def _height(hour: Hour) -> int:
    is_gladly = hour.cost == 0 and bool(hour.words)
    return _GLADLY if is_gladly else _HEIGHTS[hour.cost]
