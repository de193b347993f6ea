"""A plain sequential model of the desk: what stands, and the few steps that change it.

Values only; each step gives a new desk.

A step returns None where the rules forbid it. The rules are written again from their description,
and share no code with the product.
"""

from collections.abc import Hashable, Iterable
from datetime import datetime
from typing import NamedTuple

Order = tuple[datetime, int]

HELD, OFFERED, PLAYER, LISTENER = "HELD", "OFFERED", "player", "listener"


class Live(NamedTuple):
    """A live meeting, and how many places it has."""

    id: int
    instructor: int
    starts_at: datetime
    ends_at: datetime
    held_until: datetime
    one_on_one: bool
    places: int
    listener_places: int

    def seats(self, kind: str) -> int:
        return self.listener_places if kind == LISTENER else self.places


class Place(NamedTuple):
    """A live booking."""

    booking: int
    meeting: int
    student: int
    kind: str
    standing: str
    starts_at: datetime
    ends_at: datetime


class Waits(NamedTuple):
    """A live place in a queue; `offer` is the booking offered to it, 0 where there is none."""

    order: Order
    meeting: int
    student: int
    kind: str
    offer: int

    @property
    def id(self) -> int:
        return self.order[1]


class Desk(NamedTuple):
    """What stands. `marks` remember what no row shows: versions used up, days away, what has been
    changed since the start.
    """

    meetings: frozenset[Live] = frozenset()
    places: frozenset[Place] = frozenset()
    queue: frozenset[Waits] = frozenset()
    marks: frozenset[Hashable] = frozenset()

    def meeting(self, pk: int) -> Live | None:
        return next((row for row in self.meetings if row.id == pk), None)

    def place(self, booking: int) -> Place | None:
        return next((row for row in self.places if row.booking == booking), None)

    def blocked(
        self, instructor: int, starts_at: datetime, held_until: datetime, *, but: int = 0
    ) -> bool:
        """Whether the instructor has a live meeting then, changeover included; `but` is the meeting
        that moves.
        """
        return any(
            row.instructor == instructor
            and row.id != but
            and row.starts_at < held_until
            and starts_at < row.held_until
            for row in self.meetings
        )

    def clashes(
        self, student: int, starts_at: datetime, ends_at: datetime, *, but: int = 0
    ) -> bool:
        """Whether the student is held in another meeting then; an offer holds no time."""
        return any(
            row.student == student
            and row.standing == HELD
            and row.meeting != but
            and row.starts_at < ends_at
            and starts_at < row.ends_at
            for row in self.places
        )

    def taken(self, meeting: int, kind: str) -> int:
        return sum(row.meeting == meeting and row.kind == kind for row in self.places)

    def full(self, meeting: Live, kind: str) -> bool:
        return self.taken(meeting.id, kind) >= meeting.seats(kind)

    def line(self, meeting: int, kind: str) -> list[Waits]:
        """Those who wait without an offer, first in line first."""
        return sorted(
            row
            for row in self.queue
            if row.meeting == meeting and row.kind == kind and not row.offer
        )

    def waits(self, meeting: int, student: int, kind: str) -> Waits | None:
        """Their place in the queue, with or without an offer."""
        return next(
            (
                row
                for row in self.queue
                if (row.meeting, row.student, row.kind) == (meeting, student, kind)
            ),
            None,
        )

    def booked(self, meeting: int, student: int, kind: str) -> bool:
        """Whether they have such a place, or are held as a player, who needs no other."""
        return any(
            row.meeting == meeting
            and row.student == student
            and (row.kind == kind or (row.kind == PLAYER and row.standing == HELD))
            for row in self.places
        )

    def marked(self, *marks: Hashable) -> "Desk":
        return self._replace(marks=self.marks | set(marks))

    def with_slot(self, meeting: Live, place: Place) -> "Desk | None":
        """A one-on-one booked or moved: both must be free then."""
        if self.blocked(meeting.instructor, meeting.starts_at, meeting.held_until, but=meeting.id):
            return None
        if self.clashes(place.student, place.starts_at, place.ends_at, but=meeting.id):
            return None
        kept = (
            {row for row in self.meetings if row.id != meeting.id},
            {row for row in self.places if row.booking != place.booking},
        )
        return self._replace(
            meetings=frozenset(kept[0] | {meeting}), places=frozenset(kept[1] | {place})
        )

    def without_meeting(self, meeting: int) -> "Desk":
        """Called off: everybody's place in it and in its queue ends."""
        return self._replace(
            meetings=frozenset(row for row in self.meetings if row.id != meeting),
            places=frozenset(row for row in self.places if row.meeting != meeting),
            queue=frozenset(row for row in self.queue if row.meeting != meeting),
        )


def all_or_none(desk: Desk, slots: Iterable[tuple[Live, Place]]) -> Desk | None:
    """A weekly place: every lesson, or nothing."""
    for meeting, place in slots:
        after = desk.with_slot(meeting, place)
        if after is None:
            return None
        desk = after
    return desk
