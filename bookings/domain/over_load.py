"""How many meetings that are booked an instructor's load would not allow."""

from collections.abc import Collection, Iterable
from datetime import datetime

from bookings.domain.load import Taught, all_bars
from bookings.domain.policy import Policy
from bookings.domain.timeline import CELL, Horizon, Period
from bookings.domain.wall import Seconds, joined, seconds


def over_load(
    taught: Iterable[Period], judged: Collection[datetime], time_zone: str, policy: Policy
) -> int:
    """How many of the meetings that start at a `judged` instant would not be allowed.

    Each is judged beside those that start before it. `taught` is everything the instructor
    teaches, `time_zone` theirs.
    """
    before, once = list[Seconds](), list[Seconds]()
    count = 0
    for meeting in sorted(taught, key=lambda period: period.starts_at):
        if meeting.starts_at in judged:
            horizon = Horizon.spanning(meeting.starts_at, meeting.starts_at + CELL)
            around = Taught.among(before, once, time_zone, meeting.minutes, horizon)
            count += _is_barred(meeting, around, policy, horizon)
        before.append(_in_seconds(meeting))
        once[-1:] = joined([*once[-1:], before[-1]])
    return count


def _in_seconds(period: Period) -> Seconds:
    return seconds(period.starts_at), seconds(period.ends_at) + bool(period.ends_at.microsecond)


def _is_barred(meeting: Period, around: Taught, policy: Policy, horizon: Horizon) -> bool:
    start = seconds(meeting.starts_at)
    found = all_bars(around, meeting.minutes, policy, horizon)
    return any(bar.since <= start < bar.until for bar in found)
