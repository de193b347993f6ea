"""How much an instructor teaches without rest: when one more meeting may not start.

Four rules, each with its limit in the studio policy: the minutes taught in a row, on one local day
and in one local week (from Monday), and the rest between the last end of one local day and the
first start of a later one. A minute counts for the day in which it lies, and once where meetings
overlap. A local day runs from the first instant of its date to the first instant of the next, so a
day of 23 or 25 hours is one day.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from itertools import groupby, pairwise
from typing import NamedTuple

from bookings.domain.policy import Policy
from bookings.domain.timeline import CELL_MINUTES, EPOCH, Horizon, Period
from bookings.domain.wall import DAY, Seconds, day_edges, joined, seconds

TAUGHT_AROUND = timedelta(days=8)
"""How far around a start the instructor's meetings are read: the local week and the days beside it
are then whole.
"""

_MINUTE = 60
_CELL_SECONDS = CELL_MINUTES * _MINUTE
_DAYS_AROUND = 9
_ANY_TIME = (-(10**15), 10**15)


class Bar(NamedTuple):
    """A meeting that starts in [since, until), UTC seconds, would break the rule `code`.

    `limit` is in minutes.

    `taught` seconds count already; the part of the meeting inside `within` would be added. For the
    night's rest, both ends of `within` are the instant at which that rest begins or ends.
    """

    code: str
    since: int
    until: int
    limit: int
    taught: int
    within: Seconds

    def would_be(self, start: int, length: int) -> int:
        """Minutes taught, or of rest for "load-rest", with a meeting of `length` seconds from
        `start`.
        """
        if self.code == "load-rest":
            return max(start - self.within[0], self.within[1] - start - length, 0) // _MINUTE
        added = min(start + length, self.within[1]) - max(start, self.within[0])
        return -(-(self.taught + added) // _MINUTE)


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
        since, until = _whole(horizon)
        first_day = since // DAY - _DAYS_AROUND
        first_day -= (first_day + 3) % 7  # back to a Monday: 1970-01-01 was a Thursday
        past_day = (until + minutes * _MINUTE) // DAY + _DAYS_AROUND
        days = day_edges(time_zone, first_day, past_day)
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


def bars(
    taught: Iterable[Period], time_zone: str, minutes: int, policy: Policy, horizon: Horizon
) -> Iterator[Bar]:
    """Where a meeting of that many minutes may not start, for starts in the horizon that lie over
    no taught meeting.

    `taught` are the instructor's meetings as [starts_at, ends_at), in any order; `time_zone` is the
    instructor's. Refused("unknown-zone").
    """
    around = Taught.around(taught, time_zone, minutes, horizon)
    yield from day_bars(around, minutes, policy, horizon)
    yield from other_bars(around, minutes, policy, horizon)


def day_bars(taught: Taught, minutes: int, policy: Policy, horizon: Horizon) -> Iterator[Bar]:
    """The bars of the run and of the local day."""
    length, whole = minutes * _MINUTE, _whole(horizon)
    yield from _runs(taught.once, length, policy, whole)
    yield from _sums("load-day", taught.once, taught.days, length, policy.day_minutes, whole)


def other_bars(taught: Taught, minutes: int, policy: Policy, horizon: Horizon) -> Iterator[Bar]:
    """The bars of the week and of the night's rest."""
    length, whole, weeks = minutes * _MINUTE, _whole(horizon), taught.days[::7]
    yield from _sums("load-week", taught.once, weeks, length, policy.week_minutes, whole)
    yield from _rests(taught.meetings, taught.days, length, policy.night_rest_minutes)


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


def _runs(once: list[Seconds], length: int, policy: Policy, whole: Seconds) -> Iterator[Bar]:
    """Bars of "load-run".

    Meetings closer than the gap are in a row, and touching ones always are.
    """
    limit, gap = policy.run_minutes, max(policy.run_gap_minutes * _MINUTE, 1)
    if length > limit * _MINUTE:
        yield Bar("load-run", *whole, limit, 0, _ANY_TIME)
    chains: list[tuple[int, int, int]] = []  # first, past, taught
    for first, past in once:
        begins, taught = first, past - first
        if chains and first - chains[-1][1] < gap:
            begins, _, before = chains.pop()
            taught += before
        chains.append((begins, past, taught))
    for first, past, taught in chains:
        if taught + length > limit * _MINUTE:
            yield Bar("load-run", first - gap - length + 1, past + gap, limit, taught, _ANY_TIME)
    for (_, past, before), (first, _, after) in pairwise(chains):
        since, until = first - gap - length + 1, past + gap  # in a row with both
        if since < until and before + after + length > limit * _MINUTE:
            yield Bar("load-run", since, until, limit, before + after, _ANY_TIME)


def _sums(
    code: str,
    once: list[Seconds],
    edges: Sequence[int],
    length: int,
    limit: int,
    whole: Seconds,
) -> Iterator[Bar]:
    """Bars of one limit over each stretch between two edges that a meeting which starts in `whole`
    may reach: more of the meeting would lie in it than is left.
    """
    if not once and length <= limit * _MINUTE:
        return
    edges = edges[
        max(bisect_right(edges, whole[0]) - 1, 0) : bisect_left(edges, whole[1] + length) + 1
    ]
    taught = [0] * len(edges)
    i, last = 0, len(edges) - 1
    for first, past in once[max(bisect_left(once, (edges[0],)) - 1, 0) :]:
        while i < last and edges[i + 1] <= first:
            i += 1
        if i == last:
            break
        at = i
        while at < last and edges[at] < past:
            taught[at] += min(past, edges[at + 1]) - max(first, edges[at])
            at += 1
    for (opens, closes), already in zip(pairwise(edges), taught, strict=False):
        left = max(limit * _MINUTE - already, 0)
        if length > left and closes - opens > left:
            yield Bar(
                code, opens + left - length + 1, closes - left, limit, already, (opens, closes)
            )


def _rests(meetings: list[Seconds], days: Sequence[int], length: int, limit: int) -> Iterator[Bar]:
    """Bars of the night's rest.

    A meeting belongs to the day on which it starts; only a day's first start and last end bound the
    rest.
    """
    rest = limit * _MINUTE
    ended = day_past = None
    for i, group in groupby(meetings, lambda meeting: bisect_right(days, meeting[0])):
        of_day = list(group)
        begun, opens, closes = of_day[0][0], days[i - 1], days[i]
        if ended is not None and day_past is not None:
            yield from _rest_bar(day_past, min(begun, ended + rest), limit, ended)
        since = begun - rest - length if ended is None else max(begun - rest, ended) - length
        yield from _rest_bar(since + 1, opens, limit, begun)
        ended, day_past = max(past for _, past in of_day), closes
    if ended is not None and day_past is not None:
        yield from _rest_bar(day_past, ended + rest, limit, ended)


def _rest_bar(since: int, until: int, limit: int, instant: int) -> Iterator[Bar]:
    if since < until:
        yield Bar("load-rest", since, until, limit, 0, (instant, instant))
