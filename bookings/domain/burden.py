"""How inconvenient a local hour is, 0-20: the measure that choices of times are compared by."""

from datetime import datetime

from bookings.domain.timeline import Period
from bookings.domain.wall import seconds, spans

HOUR = 3600
HARD = 8
"""From this burden on an hour is very early, very late or at night: offered, never recommended."""

HARD_BY_THE_CURVE = "very early, very late or at night"
HARD_BY_THEIR_WEEK = "at hours that suit less"
"""What hard hours are called: the week of a student may make any hour one."""

DEFAULT_CURVE: tuple[int, ...] = (20, 20, 20, 20, 20, 20, 8, 3, 1, *(0,) * 11, 1, 3, 8, 20)
"""One value for each hour of the local day: 09-20 costs nothing, 23-06 costs 20.

A person may replace it without giving a reason.
"""

NIGHT: tuple[int, ...] = (*(1,) * 7, *(0,) * 15, 1, 1)
"""The hours from 22:00 to 07:00, in the shape of a curve."""


def is_night(period: Period, time_zone: str) -> bool:
    """Whether any of the period lies between 22:00 and 07:00 on that zone's wall clock."""
    return burden(period, time_zone, NIGHT) > 0


def burden(period: Period, time_zone: str, curve: tuple[int, ...] = DEFAULT_CURVE) -> int:
    """The greatest value of the curve over the period's 5-minute cells on that zone's wall clock.

    The curve has 24 values, one for each local hour.
    """
    first, last = seconds(period.starts_at), seconds(period.ends_at - datetime.resolution)
    return max(
        curve[hour % 24]
        for span in spans(time_zone, first, last + 1)
        if span.since <= last and first < span.until
        for hour in range(
            (max(first, span.since) + span.offset) // HOUR,
            (min(last, span.until - 1) + span.offset) // HOUR + 1,
        )
    )
