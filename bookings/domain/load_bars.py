"""The bars of each rule of the load: where one more meeting would break its limit.

All are told in UTC seconds, for meetings of `length` seconds that start in `whole`.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

from bookings.domain.policy import Policy
from bookings.domain.wall import Seconds

MINUTE = 60
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
            return max(start - self.within[0], self.within[1] - start - length, 0) // MINUTE
        added = min(start + length, self.within[1]) - max(start, self.within[0])
        return -(-(self.taught + added) // MINUTE)


def runs_barred(once: list[Seconds], length: int, policy: Policy, whole: Seconds) -> Iterator[Bar]:
    """Bars of "load-run".

    Meetings closer than the gap are in a row, and touching ones always are.
    """
    limit, gap = policy.run_minutes, max(policy.run_gap_minutes * MINUTE, 1)
    if length > limit * MINUTE:
        yield Bar("load-run", *whole, limit, 0, _ANY_TIME)
    chains: list[tuple[int, int, int]] = []  # first, past, taught
    for first, past in _rows_near(once, length, gap, whole):
        begins, taught = first, past - first
        if chains and first - chains[-1][1] < gap:
            begins, _, before = chains.pop()
            taught += before
        chains.append((begins, past, taught))
    for first, past, taught in chains:
        if taught + length > limit * MINUTE:
            yield Bar("load-run", first - gap - length + 1, past + gap, limit, taught, _ANY_TIME)
    for (_, past, before), (first, _, after) in pairwise(chains):
        since, until = first - gap - length + 1, past + gap  # in a row with both
        if since < until and before + after + length > limit * MINUTE:
            yield Bar("load-run", since, until, limit, before + after, _ANY_TIME)


def _rows_near(once: list[Seconds], length: int, gap: int, whole: Seconds) -> list[Seconds]:
    """The rows, in full, that a meeting which starts in `whole` may be part of."""
    begins = max(bisect_left(once, (whole[0] - gap,)) - 1, 0)
    while begins and once[begins][0] - once[begins - 1][1] < gap:
        begins -= 1
    ends = bisect_left(once, (whole[1] + length + gap,))
    while 0 < ends < len(once) and once[ends][0] - once[ends - 1][1] < gap:
        ends += 1
    return once[begins:ends]


def sums_barred(
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
    if not once and length <= limit * MINUTE:
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
        left = max(limit * MINUTE - already, 0)
        if length > left and closes - opens > left:
            yield Bar(
                code, opens + left - length + 1, closes - left, limit, already, (opens, closes)
            )


def rests_barred(
    meetings: list[Seconds], days: Sequence[int], length: int, limit: int, whole: Seconds
) -> Iterator[Bar]:
    """Bars of the night's rest for a meeting that starts in `whole`.

    A meeting belongs to the day on which it starts; only a day's first start and last end bound the
    rest.
    """
    rest = limit * MINUTE
    # From the last day on which something starts before.
    begins = bisect_left(meetings, (whole[0],))
    if begins:
        before = bisect_right(days, meetings[begins - 1][0]) - 1
        begins = bisect_left(meetings, (days[before],))
    near = meetings[begins : bisect_left(meetings, (whole[1] + length + rest,))]
    ended = day_past = None
    for i, group in groupby(near, lambda meeting: bisect_right(days, meeting[0])):
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
