"""What the desk holds: rows as plain values, and what is read off them. Each change gives a new
desk, so that one can be kept and compared.
"""

from collections.abc import Hashable
from datetime import UTC, datetime
from typing import NamedTuple

from tests.races.desk.book_rows import Books

HELD, OFFERED, ENDED = "HELD", "OFFERED", "ENDED"
PLAYER, LISTENER = "player", "listener"
KINDS = (PLAYER, LISTENER)
ALWAYS = datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)


class Meeting(NamedTuple):
    """A meeting and how many places it has. `off` says that it does not take place; `called_off` is
    the instant at which the school said so, and stays when it is reinstated. `proposed` times are
    agreed by nobody, but hold the instructor's time until they are off.
    """

    id: int
    instructor: int
    starts_at: datetime
    ends_at: datetime
    held_until: datetime
    one_on_one: bool = True
    places: int = 1
    listener_places: int = 0
    offering: str = ""
    weekly: int | None = None
    off: bool = False
    called_off: datetime | None = None
    proposed: bool = False

    def seats(self, kind: str) -> int:
        return self.listener_places if kind == LISTENER else self.places


class Booking(NamedTuple):
    """A booking; `why` and `ended_at` tell its end, `proposed` the proposal it is a time of."""

    id: int
    meeting: int
    student: int
    kind: str
    standing: str
    starts_at: datetime
    ends_at: datetime
    answer_by: datetime | None = None
    why: str = ""
    ended_at: datetime | None = None
    proposed: int | None = None
    decline_by: datetime | None = None

    @property
    def live(self) -> bool:
        return self.standing != ENDED


class Wait(NamedTuple):
    """A place in a queue; `offer` is the booking that it was offered."""

    id: int
    joined_at: datetime
    meeting: int
    student: int
    kind: str
    offer: int | None = None
    why: str = ""
    ended_at: datetime | None = None

    @property
    def live(self) -> bool:
        return not self.why


class Proposal(NamedTuple):
    """Times proposed to a student; taking one moves the lesson `moves`, if there is one."""

    id: int
    student: int
    instructor: int
    answer_by: datetime | None = None
    moves: int | None = None
    request: int | None = None
    why: str = ""
    ended_at: datetime | None = None


class Weekly(NamedTuple):
    """A weekly place; its lessons are meetings that name it."""

    id: int
    student: int
    left: bool = False


class Away(NamedTuple):
    """A stretch in which an instructor takes nothing new; all time, where they have left."""

    instructor: int
    since: datetime
    until: datetime


class Desk(NamedTuple):
    """Every row, ended ones too. `announced` are queues of which all were told that the first yes
    has the place; `marks` remember what no row shows.
    """

    meetings: frozenset[Meeting] = frozenset()
    bookings: frozenset[Booking] = frozenset()
    waits: frozenset[Wait] = frozenset()
    weekly: frozenset[Weekly] = frozenset()
    away: frozenset[Away] = frozenset()
    announced: frozenset[tuple[int, str]] = frozenset()
    marks: frozenset[tuple[Hashable, ...]] = frozenset()
    proposals: frozenset[Proposal] = frozenset()
    books: Books = Books()

    def standing(self) -> "Desk":
        """The live meetings, bookings, places in queues and proposals, and all the books."""
        return Desk(
            frozenset(row for row in self.meetings if not row.off),
            frozenset(row for row in self.bookings if row.live),
            frozenset(row for row in self.waits if row.live),
            proposals=frozenset(row for row in self.proposals if not row.why),
            books=self.books,
        )

    # ---- one row
    def meeting(self, pk: int) -> Meeting | None:
        return next((row for row in self.meetings if row.id == pk), None)

    def booking(self, pk: int) -> Booking | None:
        return next((row for row in self.bookings if row.id == pk), None)

    def wait(self, pk: int) -> Wait | None:
        return next((row for row in self.waits if row.id == pk), None)

    def proposal(self, pk: int) -> Proposal | None:
        return next((row for row in self.proposals if row.id == pk), None)

    # ---- time
    def blocked(
        self,
        instructor: int,
        starts_at: datetime,
        held_until: datetime,
        *,
        but: int | None = None,
    ) -> bool:
        """Whether the instructor has a meeting then, changeover included; `but` is the meeting that
        moves.
        """
        return any(
            row.instructor == instructor
            and not row.off
            and row.id != but
            and row.starts_at < held_until
            and starts_at < row.held_until
            for row in self.meetings
        )

    def clashes(
        self, student: int, starts_at: datetime, ends_at: datetime, *, but: int | None = None
    ) -> bool:
        """Whether the student is held in another meeting then; an offer holds no time."""
        return any(
            row.student == student
            and row.standing == HELD
            and row.meeting != but
            and row.starts_at < ends_at
            and starts_at < row.ends_at
            for row in self.bookings
        )

    def is_away(self, instructor: int, starts_at: datetime, ends_at: datetime) -> bool:
        """Whether they are away, or have left, at some time of that period."""
        return any(
            row.instructor == instructor and row.since < ends_at and starts_at < row.until
            for row in self.away
        )

    def has_left(self, instructor: int) -> bool:
        return Away(instructor, *ALWAYS) in self.away

    # ---- places
    def roster(self, meeting: int, kind: str | None = None) -> list[Booking]:
        """Live bookings by id, of one kind of place or of both."""
        return sorted(
            row
            for row in self.bookings
            if row.meeting == meeting and row.live and kind in (None, row.kind)
        )

    def taken(self, meeting: int, kind: str) -> int:
        return sum(
            row.meeting == meeting and row.kind == kind and row.live for row in self.bookings
        )

    def full(self, meeting: Meeting, kind: str) -> bool:
        return self.taken(meeting.id, kind) >= meeting.seats(kind)

    def booked(self, meeting: int, student: int, kind: str) -> bool:
        """Whether they have such a place, or are held as a player, who needs no other."""
        return any(
            row.meeting == meeting
            and row.student == student
            and row.live
            and (row.kind == kind or (row.kind == PLAYER and row.standing == HELD))
            for row in self.bookings
        )

    def line(self, meeting: int, kind: str) -> list[Wait]:
        """Those who wait without an offer, first in line first."""
        return sorted(
            (
                row
                for row in self.waits
                if row.meeting == meeting and row.kind == kind and row.live and row.offer is None
            ),
            key=lambda row: (row.joined_at, row.id),
        )

    def waits_for(self, meeting: int, student: int, kind: str) -> Wait | None:
        """Their live place in the queue, with or without an offer."""
        wanted = (meeting, student, kind)
        live = (row for row in self.waits if row.live)
        return next((row for row in live if (row.meeting, row.student, row.kind) == wanted), None)

    # ---- changes; a row replaces the one of its id
    def with_meeting(self, new: Meeting) -> "Desk":
        return self._replace(meetings=self.meetings - {self.meeting(new.id)} | {new})

    def with_booking(self, new: Booking) -> "Desk":
        return self._replace(bookings=self.bookings - {self.booking(new.id)} | {new})

    def with_wait(self, new: Wait) -> "Desk":
        return self._replace(waits=self.waits - {self.wait(new.id)} | {new})

    def with_proposal(self, new: Proposal) -> "Desk":
        return self._replace(proposals=self.proposals - {self.proposal(new.id)} | {new})

    def marked(self, *marks: tuple[Hashable, ...]) -> "Desk":
        return self._replace(marks=self.marks | set(marks))
