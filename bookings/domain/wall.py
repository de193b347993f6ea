"""A zone's wall clock as stretches of constant offset: inside one, wall time and UTC differ by a
constant.

Seconds count from 1970-01-01T00:00, on the wall clock or in UTC, without leap seconds.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from bookings.domain.timeline import EPOCH
from bookings.domain.zones import place, zone

DAY = 86_400
SECOND = timedelta(seconds=1)
UTC_OFFSET = timedelta()

Seconds = tuple[int, int]  # half-open


class Span(NamedTuple):
    """UTC seconds [since, until) in which wall seconds = UTC seconds + offset."""

    since: int
    until: int
    offset: int


def seconds(instant: datetime) -> int:
    """UTC seconds of an instant, rounded down."""
    return (instant - EPOCH) // SECOND


def spans(time_zone: str, since: int, until: int) -> tuple[Span, ...]:
    """Consecutive spans that hold at least the UTC seconds [since, until).

    Refused("unknown-zone").
    """
    return _spans(time_zone, since // DAY, -(-until // DAY))


@lru_cache(maxsize=4096)
def _spans(time_zone: str, first_day: int, past_day: int) -> tuple[Span, ...]:
    clock = zone(time_zone)

    def offset(second: int) -> int:
        return (datetime.fromtimestamp(second, clock).utcoffset() or UTC_OFFSET) // SECOND

    def changes(low: int, before: int, high: int, after: int) -> list[tuple[int, int]]:
        """Each second in (low, high] from which another offset holds.

        An offset that leaves and returns within a day is not seen.
        """
        if before == after:
            return []
        if high - low == 1:
            return [(high, after)]
        middle = (low + high) // 2
        between = offset(middle)
        return changes(low, before, middle, between) + changes(middle, between, high, after)

    start = first_day * DAY
    known = offset(start)
    begins = [(start, known)]
    for day in range(first_day, past_day):
        following = offset((day + 1) * DAY)
        begins += changes(day * DAY, known, (day + 1) * DAY, following)
        known = following
    ends = [second for second, _ in begins[1:]] + [past_day * DAY]
    return tuple(
        Span(second, end, shift)
        for (second, shift), end in zip(begins, ends, strict=True)
        if second < end
    )


def pieces(opens: int, closes: int, zone_spans: tuple[Span, ...]) -> list[tuple[int, int]]:
    """The UTC seconds whose wall second lies in [opens, closes), as maximal [since, until), rising.

    A wall time in a gap gives nothing, and a repeated one gives both its instants. No other code
    handles clock changes.
    """
    found: list[tuple[int, int]] = []
    for span in zone_spans:
        since, until = max(opens - span.offset, span.since), min(closes - span.offset, span.until)
        if since < until:
            if found and found[-1][1] == since:
                since = found.pop()[0]
            found.append((since, until))
    return found


def joined(rising: Iterable[Seconds]) -> list[Seconds]:
    """The union of stretches that rise by their starts: those that overlap or touch become one."""
    found: list[Seconds] = []
    for since, until in rising:
        if found and since <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], until))
        else:
            found.append((since, until))
    return found


@lru_cache(maxsize=512)
def day_edges(time_zone: str, first_day: int, past_day: int) -> tuple[int, ...]:
    """The UTC seconds at which each local date begins, from day `first_day` after 1970-01-01 to
    `past_day`, both included.

    A date begins with its first instant; a date that the zone skips begins where the next one does.
    Refused("unknown-zone").
    """
    around = spans(time_zone, (first_day - 1) * DAY, (past_day + 3) * DAY)
    edges = []
    for day in range(first_day, past_day + 1):
        shown = pieces(day * DAY, (day + 1) * DAY, around) or pieces(
            (day + 1) * DAY, (day + 2) * DAY, around
        )
        edges.append(shown[0][0])
    return tuple(edges)


def spoken(instant: datetime, time_zone: str) -> str:
    """An instant for a sentence: "07:00 on Sunday 7 February 2027 (Sydney)"."""
    local = instant.astimezone(zone(time_zone))
    return f"{local:%H:%M} on {local:%A} {local.day} {local:%B %Y} ({place(time_zone)})"


def clock(minute: int) -> str:
    """A minute of the day (0-1440) as a clock shows it: "08:00"."""
    return f"{minute // 60:02}:{minute % 60:02}"
