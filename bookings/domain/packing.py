"""Lessons lost: how many lessons fewer an instructor's local day can hold after a start is taken.

A day holds a set of lessons of one offering if each starts where one more lesson may start, none
lies in the changeover of another, no row with a lesson in it exceeds the minutes taught in a row,
and the day's minutes suffice. A subset of such a set is one too. Therefore the minutes of the day
only cap the count, and the run is the only state: a lesson joins what lies before it and what lies
after it through the minutes of its own row, and for each start it is enough to know which counts on
either side go with which minutes in that row.

The week's minutes, the night's rest, lead time and horizon are left out, and so is everything that
is the student's: it is a property of the instructor's day, and two like days cost one computation.
"""

from collections import deque
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from bookings.domain.timeline import CELL_MINUTES, bits
from bookings.domain.wall import Seconds

CELL_SECONDS = CELL_MINUTES * 60
_NOTHING_RESTED = -1


class Lesson(NamedTuple):
    """What the rules of a day say of one lesson, in seconds."""

    length: int
    held: int
    """With its changeover."""
    run: int
    """The most that is taught in a row."""
    gap: int
    """Meetings closer than that are in a row. At least 1, so that touching ones always are."""


class Day(NamedTuple):
    """One local day, in seconds or cells after its first cell."""

    starts: int
    """The mask of the cells in which one more lesson may start."""
    past: int
    """The second at which the next day begins."""
    taught: tuple[Seconds, ...]
    """What is taught already, without overlaps, rising; also beyond the day, where a row reaches
    across midnight.
    """
    left: int
    """Seconds that may still be taught within the day."""


class _Ended(NamedTuple):
    """A lesson or meeting that something may follow."""

    free_at: int
    """The first start that its changeover allows."""
    row_until: int
    """From then on nothing is in a row with it."""
    rested_at: int
    """The later of the two."""
    rows: list["_Row"]
    has_lesson: bool
    """Whether its row holds a lesson: only such a row is judged."""


_Row = tuple[int, int]
"""(lessons so far, seconds taught in the row that ends here)"""


@lru_cache(maxsize=16_384)
def losses(day: Day, lesson: Lesson) -> tuple[tuple[int, int], ...]:
    """(cell, lessons lost) of each start of the day that loses any.

    Lessons lost are the most that the day can hold, less 1, less the most once this one is taken.
    """
    held = _held_with(day, lesson)
    most = max(held.values(), default=0)
    return tuple(
        (start // CELL_SECONDS, most - count) for start, count in held.items() if count < most
    )


def most_lessons(day: Day, lesson: Lesson) -> int:
    """The most lessons that the day can hold."""
    return max(_held_with(day, lesson).values(), default=0)


def lost_beyond_load(day: Day, lesson: Lesson, cell: int) -> int:
    """The lessons lost by a start that is none of `day.starts`: one that the instructor allows
    against their load.
    """
    first = cell * CELL_SECONDS
    after = _taken(day, lesson, first)
    free = (other for other in bits(day.starts) if abs(other * CELL_SECONDS - first) >= lesson.held)
    after = after._replace(starts=sum(1 << other for other in free))
    return max(most_lessons(day, lesson) - 1 - most_lessons(after, lesson), 0)


def _held_with(day: Day, lesson: Lesson) -> dict[int, int]:
    """For each start, in seconds, the most lessons that the day can hold with it among them."""
    starts = [cell * CELL_SECONDS for cell in bits(day.starts)]
    within = [start for start in starts if start + lesson.length <= day.past]
    held = _capped(within, day, lesson)
    # A lesson across midnight is the last of its day and takes only a part of the day's minutes.
    for start in starts[len(within) :]:
        before = [other for other in within if other + lesson.held <= start]
        with_it = _capped(before, _taken(day, lesson, start), lesson)
        held[start] = 1 + max(with_it.values(), default=0)
        for other, count in with_it.items():
            if count:
                held[other] = max(held[other], 1 + count)
    return held


def _taken(day: Day, lesson: Lesson, start: int) -> Day:
    """The day with a lesson taught from that second on; its starts are as before."""
    past = start + lesson.length
    taught = tuple(sorted((*day.taught, (start, past))))
    return day._replace(taught=taught, left=day.left - (min(past, day.past) - start))


def _capped(starts: Sequence[int], day: Day, lesson: Lesson) -> dict[int, int]:
    """For each start the most of these that can be taken with it; 0 where it cannot itself."""
    cap = max(day.left, 0) // lesson.length
    before = _rows(starts, day.taught, lesson)
    # What comes after is what comes before on a clock that runs backwards.
    backwards = [-start - lesson.length for start in reversed(starts)]
    taught = [(-past, -first) for first, past in reversed(day.taught)]
    after = reversed(_rows(backwards, taught, lesson))
    limit = lesson.run + lesson.length  # both sides count the lesson itself
    return {
        start: min(_joined(left, right, limit), cap)
        for start, left, right in zip(starts, before, after, strict=True)
    }


def _joined(before: Iterable[_Row], after: Sequence[_Row], limit: int) -> int:
    """The most lessons on both sides of one, which both sides count, if its row is short enough."""
    most = 0
    for lessons, taught in before:
        for others, also_taught in after:
            if taught + also_taught <= limit:
                most = max(most, lessons + others - 1)
                break
    return most


def _rows(starts: Iterable[int], taught: Sequence[Seconds], lesson: Lesson) -> list[list[_Row]]:
    """For each start the rows that it can end, with the lessons up to it and the most of them for
    each length of row: most lessons first, and the fewer lessons the shorter the row.
    """
    found = []
    rested, ended, meetings = 0, deque[_Ended](), deque(taught)
    for start in starts:
        while meetings and meetings[0][0] < start:
            ended = _after_meeting(meetings.popleft(), rested, ended, lesson)
            rested = _NOTHING_RESTED
        # They ended in the order in which they began, and so they are rested from in that order.
        while ended and ended[0].rested_at <= start:
            rested = max(rested, ended.popleft().rows[0][0])
        rows = _extended(start, rested, ended, lesson)
        found.append(rows)
        if rows:
            free_at, row_until = start + lesson.held, start + lesson.length + lesson.gap
            ended.append(_Ended(free_at, row_until, max(free_at, row_until), rows, True))
    return found


def _extended(start: int, rested: int, ended: Iterable[_Ended], lesson: Lesson) -> list[_Row]:
    """The rows that a lesson ends: alone after a rest, or with what ended shortly before."""
    length, longest = lesson.length, lesson.run - lesson.length
    if longest < 0:
        return []
    shortest = {} if rested == _NOTHING_RESTED else {rested + 1: length}
    for free_at, _, _, rows, _ in ended:
        if free_at > start:
            break
        for lessons, taught in rows:
            if lessons > rested and taught <= longest:
                known = shortest.get(lessons + 1, lesson.run)
                shortest[lessons + 1] = min(known, taught + length)
    return _best(shortest)


def _after_meeting(
    meeting: Seconds, rested: int, ended: Iterable[_Ended], lesson: Lesson
) -> deque[_Ended]:
    """What may be followed after a meeting that stands already: every row leads through it."""
    first, past = meeting
    shortest, alone = dict[int, int](), (_NOTHING_RESTED, 0)
    for one in ended:
        if one.row_until <= first:
            rested = max(rested, one.rows[0][0])
        elif one.has_lesson:
            for lessons, taught in one.rows:
                if taught + past - first <= lesson.run:
                    known = shortest.get(lessons, lesson.run)
                    shortest[lessons] = min(known, taught + past - first)
        else:
            alone = one.rows[0]
    if rested > _NOTHING_RESTED:
        alone = rested, 0
    row_until = past + lesson.gap
    bare = [(alone[0], alone[1] + past - first)]
    after = deque([_Ended(past, row_until, row_until, bare, False)])
    if shortest:
        after.append(_Ended(past, row_until, row_until, _best(shortest), True))
    return after


def _best(shortest: dict[int, int]) -> list[_Row]:
    """Of these (lessons, seconds) each that no other beats in lessons without a longer row."""
    if len(shortest) < 2:
        return list(shortest.items())
    kept = list[_Row]()
    for row in sorted(shortest.items(), reverse=True):
        if not kept or row[1] < kept[-1][1]:
            kept.append(row)
    return kept
