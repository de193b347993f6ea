"""How many meetings that are booked an instructor's load would not allow."""

from collections.abc import Collection, Iterable
from datetime import datetime

from bookings.domain.load import TAUGHT_AROUND, bars
from bookings.domain.policy import Policy
from bookings.domain.timeline import CELL, Horizon, Period
from bookings.domain.wall import seconds


def over_load(
    taught: Iterable[Period], judged: Collection[datetime], time_zone: str, policy: Policy
) -> int:
    """How many of the meetings that start at a `judged` instant would not be allowed.

    Each is judged beside those that start before it. `taught` is everything the instructor
    teaches, `time_zone` theirs.
    """
    before: list[Period] = []
    count = 0
    for meeting in sorted(taught, key=lambda period: period.starts_at):
        since = meeting.starts_at - TAUGHT_AROUND
        before = [other for other in before if other.ends_at > since]
        if meeting.starts_at in judged:
            count += _is_barred(meeting, before, time_zone, policy)
        before.append(meeting)
    return count


def _is_barred(meeting: Period, before: list[Period], time_zone: str, policy: Policy) -> bool:
    start = seconds(meeting.starts_at)
    horizon = Horizon.spanning(meeting.starts_at, meeting.starts_at + CELL)
    found = bars(before, time_zone, meeting.minutes, policy, horizon)
    return any(bar.since <= start < bar.until for bar in found)
