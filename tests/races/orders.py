"""Is there an order of the events, true to the clock, in which the model of the desk gives each
observed answer?

The search of Wing and Gong (1993) with the memory of Lowe (2017): a set of events already placed,
and the desk they leave, is tried once. Refusals and readings change nothing, so each is placed as
soon as the desk justifies it, and only writes branch. Of writes that differ in nothing but who
asked, the one that returned first is tried: any order of them can be changed into that one.
"""

import math
from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

from tests.races.acts import Acts, changes, succeeded
from tests.races.desk.rows import HELD, Desk
from tests.races.events import Event
from tests.races.reasons import justified
from tests.races.steps import apply

BUDGET = 100_000
"""Desks looked at before the search gives up and says so."""


@dataclass(frozen=True)
class Verdict:
    """`ordered` is None where the search gave up. `stuck` are the events that could not be placed
    where most others could.
    """

    ordered: bool | None
    stuck: Sequence[Event] = ()


def order(
    acts: Acts, events: Sequence[Event], start: Desk, end: Desk, *, budget: int = BUDGET
) -> Verdict:
    """Whether these events can be put in order from one desk to the other."""
    search = _Search(acts, events, start, end)
    memory: set[Hashable] = set()
    stack = [(search.everything, start)]
    best, stuck = len(events) + 1, search.everything
    while stack:
        left, desk = stack.pop()
        left = search.settle(left, desk)
        if (left, desk) in memory:
            continue
        memory.add((left, desk))
        if not left & search.certain and search.agrees(desk):
            return Verdict(True)
        if len(memory) > budget:
            return Verdict(None, search.named(stuck))
        if left.bit_count() < best:
            best, stuck = left.bit_count(), left
        stack += reversed(search.next(left, desk))
    return Verdict(False, search.named(stuck))


class _Search:
    """The events by their time of return, and sets of them as integers: bit i is event i."""

    def __init__(self, acts: Acts, events: Sequence[Event], start: Desk, end: Desk) -> None:
        self.acts, self.end = acts, end.standing()
        self.events = sorted(events, key=_until)
        self.everything = (1 << len(self.events)) - 1
        self.writes = self._those(changes)
        self.certain = self._those(lambda event: succeeded(event) or not changes(event))
        asked = Counter(_who(acts, event) for event in events)
        self.classes = [_class(acts, event, start, asked) for event in self.events]

    def named(self, some: int) -> list[Event]:
        return [
            event for i, event in enumerate(self.events) if some >> i & 1 and self.certain >> i & 1
        ]

    def agrees(self, desk: Desk) -> bool:
        """Whether what stands is what the last reading shows."""
        return desk.standing() == self.end

    def settle(self, left: int, desk: Desk) -> int:
        """Places every refusal and reading that may come now and is justified now."""
        placed = True
        while placed:
            placed = False
            for i in self._may_come(left & ~self.writes, left):
                if justified(self.acts, desk, self.events[i]):
                    left &= ~(1 << i)
                    placed = True
        return left

    def next(self, left: int, desk: Desk) -> list[tuple[int, Desk]]:
        """What remains and the desk after each write that may come now."""
        found: list[tuple[int, Desk]] = []
        seen: set[Hashable] = set()
        for i in self._may_come(left & self.writes, left):
            if self.classes[i] is not None and self.classes[i] in seen:
                continue
            for after in apply(self.acts, desk, self.events[i]):
                found.append((left & ~(1 << i), after))
                seen.add(self.classes[i])
        return found

    def _may_come(self, some: int, left: int) -> list[int]:
        """Those that no event which is left must come before."""
        certain = left & self.certain
        first = _until(self.events[(certain & -certain).bit_length() - 1]) if certain else math.inf
        found = []
        while some:
            lowest = some & -some
            i = lowest.bit_length() - 1
            if self.events[i].called <= first:
                found.append(i)
            some ^= lowest
        return found

    def _those(self, what: Callable[[Event], bool]) -> int:
        return sum(1 << i for i, event in enumerate(self.events) if what(event))


def _until(event: Event) -> float:
    """By when it has happened: never certainly, where no answer came."""
    return (
        math.inf
        if event.returned is None or (changes(event) and not succeeded(event))
        else event.returned
    )


def _class(acts: Acts, event: Event, start: Desk, asked: Counter[int]) -> Hashable:
    """Equal for writes of which only the student differs, and they do nothing else here; None for
    one of its own kind.
    """
    if (
        event.operation not in ("book-place", "cancel")
        or not succeeded(event)
        or event.arguments.get("if_match", "*") != "*"
    ):
        return None
    student = acts.student(event)
    has = [row for row in start.bookings if row.student == student]
    if asked[student] > 1 or any(row.student == student for row in start.waits):
        return None
    if event.operation == "book-place":
        return (
            None
            if has
            else (event.operation, event.arguments["meeting"], event.arguments.get("as", "player"))
        )
    if len(has) != 1 or has[0].standing != HELD or has[0].id != event.arguments["booking"]:
        return None
    meeting = start.meeting(has[0].meeting)
    return (
        None
        if meeting is None or meeting.one_on_one
        else (event.operation, meeting.id, has[0].kind)
    )


def _who(acts: Acts, event: Event) -> int:
    return (
        acts.student(event) if "student" in event.arguments or "booking" in event.arguments else 0
    )
