"""How much an instructor teaches without rest: when one more meeting may not start.

Four rules, each with its limit in the studio policy: the minutes taught in a row, on one local day
and in one local week (from Monday), and the rest between the last end of one local day and the
first start of a later one. A minute counts for the day in which it lies, and once where meetings
overlap. A local day runs from the first instant of its date to the first instant of the next, so a
day of 23 or 25 hours is one day.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from datetime import timedelta
from typing import NamedTuple

from bookings.domain.load_bars import MINUTE, Bar, rests_barred, runs_barred, sums_barred
from bookings.domain.policy import Policy
from bookings.domain.timeline import CELL_MINUTES, EPOCH, Horizon, Period
from bookings.domain.wall import DAY, Seconds, day_edges, joined, seconds

TAUGHT_AROUND = timedelta(days=8)
"""How far around a start the instructor's meetings are read: the local week and the days beside it
are then whole.
"""

_CELL_SECONDS = CELL_MINUTES * MINUTE
_DAYS_AROUND = 9


class Taught(NamedTuple):
    """What an instructor teaches around a horizon, in UTC seconds, rising."""

    meetings: list[Seconds]
    once: list[Seconds]
    """The same without overlaps."""
    days: tuple[int, ...]
    """The seconds at which local dates begin: a Monday's first, whole weeks on either side."""

    @classmethod
    def around(
        cls, taught: Iterable[Period], time_zone: str, minutes: int, horizon: Horizon
    ) -> "Taught":
        """Of all `taught`, in any order, what matters to a meeting of that many minutes.

        `time_zone` is the instructor's. Refused("unknown-zone").
        """
        days = _days_around(time_zone, minutes, horizon)
        meetings = []
        # A search asks this of every meeting it knows: counting whole days and seconds takes a
        # third of the time of dividing by a second.
        for period in taught:
            begins = period.starts_at - EPOCH
            first = begins.days * DAY + begins.seconds
            if days[0] <= first < days[-1]:
                ends = period.ends_at - EPOCH
                past = ends.days * DAY + ends.seconds + bool(ends.microseconds)
                meetings.append((first, past))
        meetings.sort()
        return cls(meetings, joined(meetings), days)

    @classmethod
    def among(
        cls,
        meetings: list[Seconds],
        once: list[Seconds],
        time_zone: str,
        minutes: int,
        horizon: Horizon,
    ) -> "Taught":
        """The same of meetings that are known already as this says them and lie before the end of
        the horizon.
        """
        days = _days_around(time_zone, minutes, horizon)
        first, row = (bisect_left(rising, (days[0],)) for rising in (meetings, once))
        return cls(meetings[first:], once[row:], days)

    def on_day(self, position: int, gap: int, length: int) -> list[Seconds]:
        """What counts on the local date of that position for meetings of `length` that start on it.

        The row of the evening before that may reach into it is one stretch, as long as the row and
        ending when it ends; so is the row of the next morning that one of its meetings may reach.
        Two stretches closer than `gap` are in a row. All are seconds.
        """
        once, (opens, closes) = self.once, self.days[position : position + 2]
        first, past = bisect_left(once, (opens,)), bisect_left(once, (closes,))
        found = once[first:past]
        if first and once[first - 1][1] > opens - gap:
            begins = first - 1
            while begins and once[begins][0] - once[begins - 1][1] < gap:
                begins -= 1
            ends = once[first - 1][1]
            found.insert(0, (ends - _sum(once[begins:first]), ends))
        if past < len(once) and once[past][0] < closes + length + gap:
            ends = past + 1
            while ends < len(once) and once[ends][0] - once[ends - 1][1] < gap:
                ends += 1
            found.append((once[past][0], once[past][0] + _sum(once[past:ends])))
        return found


def _days_around(time_zone: str, minutes: int, horizon: Horizon) -> tuple[int, ...]:
    since, until = _whole(horizon)
    first_day = since // DAY - _DAYS_AROUND
    first_day -= (first_day + 3) % 7  # back to a Monday: 1970-01-01 was a Thursday
    past_day = (until + minutes * MINUTE) // DAY + _DAYS_AROUND
    return day_edges(time_zone, first_day, past_day)


def bars(
    taught: Iterable[Period], time_zone: str, minutes: int, policy: Policy, horizon: Horizon
) -> Iterator[Bar]:
    """Where a meeting of that many minutes may not start, for starts in the horizon that lie over
    no taught meeting.

    `taught` are the instructor's meetings as [starts_at, ends_at), in any order; `time_zone` is the
    instructor's. Refused("unknown-zone").
    """
    yield from all_bars(
        Taught.around(taught, time_zone, minutes, horizon), minutes, policy, horizon
    )


def all_bars(taught: Taught, minutes: int, policy: Policy, horizon: Horizon) -> Iterator[Bar]:
    """The bars of all four rules."""
    yield from day_bars(taught, minutes, policy, horizon)
    yield from other_bars(taught, minutes, policy, horizon)


def day_bars(taught: Taught, minutes: int, policy: Policy, horizon: Horizon) -> Iterator[Bar]:
    """The bars of the run and of the local day."""
    length, whole = minutes * MINUTE, _whole(horizon)
    yield from runs_barred(taught.once, length, policy, whole)
    yield from sums_barred("load-day", taught.once, taught.days, length, policy.day_minutes, whole)


def other_bars(taught: Taught, minutes: int, policy: Policy, horizon: Horizon) -> Iterator[Bar]:
    """The bars of the week and of the night's rest."""
    length, whole, weeks = minutes * MINUTE, _whole(horizon), taught.days[::7]
    yield from sums_barred("load-week", taught.once, weeks, length, policy.week_minutes, whole)
    yield from rests_barred(taught.meetings, taught.days, length, policy.night_rest_minutes, whole)


def _sum(stretches: Iterable[Seconds]) -> int:
    return sum(past - first for first, past in stretches)


def _whole(horizon: Horizon) -> Seconds:
    since = seconds(horizon.starts_at)
    return since, since + horizon.cells * _CELL_SECONDS


def barred(found: Iterable[Bar], horizon: Horizon) -> int:
    """The cells of the horizon in which no meeting may start."""
    since, mask = seconds(horizon.starts_at), 0
    for bar in found:
        mask |= horizon.between(
            -((since - bar.since) // _CELL_SECONDS), -((since - bar.until) // _CELL_SECONDS)
        )
    return mask
