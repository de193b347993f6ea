"""When a zone's rules change: where its promised wall times lie now, and which moved meetings get in each other's way."""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from bookings.domain.errors import Refused
from bookings.domain.hours import resolve
from bookings.domain.timeline import Period


class Clash(StrEnum):
    """Why a person has to look at a meeting; the values are stored."""

    INSTRUCTOR = "instructor"
    STUDENT = "student"
    GAP = "gap"


@dataclass(frozen=True, slots=True)
class Shifted:
    """How far a meeting goes along the line of instants; `is_gap` where its wall time no longer exists, so that it stays."""

    by: timedelta
    is_gap: bool = False

    @property
    def moves(self) -> bool:
        return self.by != timedelta()


NOT_SHIFTED = Shifted(timedelta())


def shifted(wall: datetime, fold: int, time_zone: str, starts_at: datetime) -> Shifted:
    """How far the installed rules take a meeting stored at `starts_at` (UTC) whose promise is `wall` in `time_zone`."""
    try:
        return Shifted(resolve(wall, fold, time_zone) - starts_at)
    except Refused as refusal:
        if refusal.code != "clock-gap":
            raise
        return Shifted(timedelta(), is_gap=True)


@dataclass(frozen=True, slots=True)
class Mover:
    """A meeting that moves: where it was and where it will be, changeover included, and what it shares with other movers.

    `people` are those whose time it takes; movers with the same `together` belong together wherever they lie.
    """

    key: int
    before: Period
    after: Period
    people: frozenset[Hashable]
    together: Hashable = None


def tangles(movers: Iterable[Mover]) -> list[list[Mover]]:
    """The movers in groups, by time: no mover's old or new period meets one of another group for anybody they share.

    So each group can be moved by itself. Two lessons that change places are one group, and so is a day of lessons that
    follow each other; a year of lessons is many.
    """
    rows = {mover.key: mover for mover in movers}
    root = {key: key for key in rows}

    def top(key: int) -> int:
        while root[key] != key:
            root[key] = root[root[key]]
            key = root[key]
        return key

    stretches: dict[Hashable, list[tuple[Period, int]]] = {}
    for mover in rows.values():
        for person in mover.people:
            stretches.setdefault(person, []).extend(
                [(mover.before, mover.key), (mover.after, mover.key)]
            )
    for hers in stretches.values():
        hers.sort(key=lambda stretch: stretch[0].starts_at)
        reached, holder = hers[0][0].ends_at, hers[0][1]
        for period, key in hers[1:]:
            if period.starts_at < reached:
                root[top(key)] = top(holder)
            reached, holder = max((reached, holder), (period.ends_at, key))
    first: dict[Hashable, int] = {}
    for mover in rows.values():
        if mover.together is not None:
            root[top(mover.key)] = top(first.setdefault(mover.together, mover.key))
    groups: dict[int, list[Mover]] = {}
    for mover in sorted(rows.values(), key=lambda mover: (mover.after.starts_at, mover.key)):
        groups.setdefault(top(mover.key), []).append(mover)
    return list(groups.values())


def packed(groups: Iterable[Sequence[Mover]], most: int) -> list[list[Mover]]:
    """Whole groups in batches of at most `most` movers, in the order given; a group that is larger is a batch of its own."""
    batches: list[list[Mover]] = []
    for group in groups:
        if batches and len(batches[-1]) + len(group) <= most:
            batches[-1].extend(group)
        else:
            batches.append(list(group))
    return batches
