"""The account of a term: what was promised to one student, and what became of each lesson.

promised + carried in + extra = given + forfeited + lapsed + owed + to come + unmarked + carried out

Each lesson is one chain: a booking, what is owed for it, the make-up, what is owed for that. It is
counted once, by its last link. A lesson settled outside, such as by a refund, has left the account
as one that is carried to another term has: both count as carried out.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from bookings.domain.owed import CAUSES, Left, LessonEnd, left_by
from bookings.domain.vocabulary import LessonOutcome, OwedCause, OwedClosed


class Root(StrEnum):
    """Why a lesson is in the account."""

    PROMISED = "promised"
    CARRIED_IN = "carried-in"
    EXTRA = "extra"


@dataclass(frozen=True, slots=True)
class Lesson:
    """A one-on-one by its booking's id. `makes_up` is the id of the owed lesson that it settles."""

    id: int
    starts_at: datetime
    end: LessonEnd
    makes_up: int | None = None


@dataclass(frozen=True, slots=True)
class Owed:
    """An owed lesson by id. `booking` is the lesson that was missed; None where there was none."""

    id: int
    cause: OwedCause
    booking: int | None = None
    closed: OwedClosed | None = None


Link = Lesson | Owed

_CLOSED = {
    OwedClosed.LAPSED: Left(LessonOutcome.LAPSED, "not made up by its date"),
    OwedClosed.BY_HAND: Left(LessonOutcome.CARRIED_OUT, "settled by the school"),
    OwedClosed.CARRIED_OUT: Left(LessonOutcome.CARRIED_OUT, "carried to another term"),
}
_STILL_OWED = "to be made up"


@dataclass(frozen=True, slots=True)
class Chain:
    """One lesson of the account: its links in order, and what the last of them left."""

    root: Root
    links: Sequence[Link]
    left: Left

    @property
    def outcome(self) -> LessonOutcome:
        return self.left.outcome


@dataclass(frozen=True, slots=True)
class Account:
    """One student's account of one term. `promised` is the sum of what the weekly places store."""

    promised: int
    chains: Sequence[Chain]

    @property
    def carried_in(self) -> int:
        return sum(chain.root is Root.CARRIED_IN for chain in self.chains)

    @property
    def extra(self) -> int:
        """Single lessons beside the promise."""
        return sum(chain.root is Root.EXTRA for chain in self.chains)

    @property
    def counts(self) -> Mapping[LessonOutcome, int]:
        """How many lessons came to each outcome."""
        return Counter(chain.outcome for chain in self.chains)

    @property
    def adds_up(self) -> bool:
        """Whether every lesson that was promised, carried in or extra is counted once."""
        return self.promised + self.carried_in + self.extra == len(self.chains)


def account_of(
    promised: int,
    roots: Iterable[Link],
    lessons: Iterable[Lesson],
    owed: Iterable[Owed],
    *,
    now: datetime,
) -> Account:
    """The account from its rows. `roots` begin its chains; `lessons` and `owed` are all those of
    the student that may continue one.

    A root that left nothing, such as a date given up or a single lesson cancelled in time, is no
    part of the account.
    """
    for_lesson = {one.booking: one for one in owed if one.booking is not None}
    making_up = {one.makes_up: one for one in lessons if one.makes_up is not None}
    chains = (_chain(root, for_lesson, making_up, now) for root in roots)
    return Account(promised, [chain for chain in chains if chain.outcome != LessonOutcome.NOTHING])


def _chain(
    root: Link,
    for_lesson: Mapping[int, Owed],
    making_up: Mapping[int, Lesson],
    now: datetime,
) -> Chain:
    links = list(_links(root, for_lesson, making_up))
    return Chain(_root(root), links, _left_by_last(links[-1], now))


def _links(
    link: Link | None,
    for_lesson: Mapping[int, Owed],
    making_up: Mapping[int, Lesson],
) -> Iterator[Link]:
    while link is not None:
        yield link
        link = for_lesson.get(link.id) if isinstance(link, Lesson) else making_up.get(link.id)


def _root(root: Link) -> Root:
    if isinstance(root, Owed):
        return Root.CARRIED_IN if root.cause is OwedCause.CARRIED_IN else Root.PROMISED
    return Root.PROMISED if root.end.is_promised else Root.EXTRA


def _left_by_last(last: Link, now: datetime) -> Left:
    if isinstance(last, Owed):
        if last.closed is not None:
            return _CLOSED[last.closed]
        return Left(LessonOutcome.OWED, f"{CAUSES[last.cause]}: {_STILL_OWED}", last.cause)
    left = left_by(last.end, is_limit_used=True, now=now)
    # The school owes nothing for a lesson that ended because its student leaves.
    return (
        left
        if left.cause is None
        else Left(LessonOutcome.NOTHING, "ended with the student’s leaving")
    )
