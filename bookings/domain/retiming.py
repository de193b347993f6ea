"""When a zone's rules change: where promised wall times lie now, and which meetings then clash."""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from bookings.domain.errors import Refused
from bookings.domain.instants import resolve
from bookings.domain.timeline import Period


class Clash(StrEnum):
    """Why a person has to look at a meeting. The values are stored."""

    INSTRUCTOR = "instructor"
    STUDENT = "student"
    GAP = "gap"


@dataclass(frozen=True, slots=True)
class Shifted:
    """By how much elapsed time a meeting moves.

    A wall time in a gap no longer exists, so that meeting stays.
    """

    by: timedelta
    is_gap: bool = False

    @property
    def moves(self) -> bool:
        return self.by != timedelta()


NOT_SHIFTED = Shifted(timedelta())


def shifted(wall: datetime, fold: int, time_zone: str, starts_at: datetime) -> Shifted:
    """How far the installed rules move a meeting that is stored at `starts_at` (UTC) and promised
    at `wall` in `time_zone`.
    """
    try:
        return Shifted(resolve(wall, fold, time_zone) - starts_at)
    except Refused as refusal:
        if refusal.code != "clock-gap":
            raise
        return Shifted(timedelta(), is_gap=True)


@dataclass(frozen=True, slots=True)
class Mover:
    """A meeting that moves: its old and new period, changeover included.

    `people` are those whose time it takes. Movers with the same `together` form one group wherever
    they lie.
    """

    key: int
    before: Period
    after: Period
    people: frozenset[Hashable]
    together: Hashable = None


def tangles(movers: Iterable[Mover]) -> list[list[Mover]]:
    """The movers in groups, by time.

    No period of one group meets a period of another for anybody they share.

    So each group can be moved by itself. Two lessons that change places are one group, and so is a
    day of lessons that follow each other; a year of lessons is many groups.
    """
    rows = {mover.key: mover for mover in movers}
    groups = _Groups(rows)
    for stretches in _stretches_by_person(rows.values()).values():
        for first, second in _overlapping(stretches):
            groups.join(first, second)
    first_of: dict[Hashable, int] = {}
    for mover in rows.values():
        if mover.together is not None:
            groups.join(first_of.setdefault(mover.together, mover.key), mover.key)
    found: dict[int, list[Mover]] = {}
    for mover in sorted(rows.values(), key=lambda mover: (mover.after.starts_at, mover.key)):
        found.setdefault(groups.root(mover.key), []).append(mover)
    return list(found.values())


class _Groups:
    """Keys in groups that can be joined: each key points to another of its group, or is its
    root.
    """

    def __init__(self, keys: Iterable[int]) -> None:
        self._next = {key: key for key in keys}

    def root(self, key: int) -> int:
        """One key that stands for the whole group."""
        while self._next[key] != key:
            self._next[key] = self._next[self._next[key]]
            key = self._next[key]
        return key

    def join(self, first: int, second: int) -> None:
        """Makes one group of the two keys' groups."""
        self._next[self.root(second)] = self.root(first)


def _stretches_by_person(movers: Iterable[Mover]) -> dict[Hashable, list[tuple[Period, int]]]:
    """The old and new periods of each person's movers, each with the mover's key."""
    found: dict[Hashable, list[tuple[Period, int]]] = {}
    for mover in movers:
        for person in mover.people:
            periods = [(mover.before, mover.key), (mover.after, mover.key)]
            found.setdefault(person, []).extend(periods)
    return found


def _overlapping(stretches: list[tuple[Period, int]]) -> Iterator[tuple[int, int]]:
    """Pairs of keys that link all keys whose periods overlap, directly or through others."""
    rising = sorted(stretches, key=lambda stretch: stretch[0].starts_at)
    reached, holder = rising[0][0].ends_at, rising[0][1]
    for period, key in rising[1:]:
        if period.starts_at < reached:
            yield holder, key
        if period.ends_at >= reached:
            reached, holder = period.ends_at, key


def packed(groups: Iterable[Sequence[Mover]], most: int) -> list[list[Mover]]:
    """Whole groups in batches of at most `most` movers, in the order given.

    A larger group is a batch of its own.
    """
    batches: list[list[Mover]] = []
    for group in groups:
        if batches and len(batches[-1]) + len(group) <= most:
            batches[-1].extend(group)
        else:
            batches.append(list(group))
    return batches
