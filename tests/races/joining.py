"""Events that may touch each other, joined into groups."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Any

Owner = tuple[str, int]
Thing = tuple[str, Any]
Touch = tuple[Owner, datetime, datetime]


class Groups:
    """Numbers from 0 in groups that are joined one by one (union-find)."""

    def __init__(self, count: int) -> None:
        self._root = list(range(count))

    def of(self, i: int) -> int:
        """The number by which the group of `i` is known."""
        while self._root[i] != i:
            self._root[i] = self._root[self._root[i]]
            i = self._root[i]
        return i

    def join(self, i: int, j: int) -> None:
        self._root[self.of(i)] = self.of(j)


def join_by_name(groups: Groups, named: Sequence[Sequence[Thing]]) -> None:
    """Joins events that name one thing."""
    first: dict[Thing, int] = {}
    for i, things in enumerate(named):
        for thing in things:
            groups.join(i, first.setdefault(thing, i))


def join_by_time(groups: Groups, asked: Sequence[Sequence[Touch]]) -> None:
    """Joins events whose times of one person overlap."""
    times: dict[Owner, list[tuple[datetime, datetime, int]]] = defaultdict(list)
    for i, stretches in enumerate(asked):
        for owner, since, until in stretches:
            times[owner].append((since, until, i))
    for spans in times.values():
        spans.sort()
        reach, last = spans[0][1], spans[0][2]
        for since, until, i in spans[1:]:
            if since < reach:
                groups.join(i, last)
            if until > reach:
                reach, last = until, i
