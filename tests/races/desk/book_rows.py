"""What the desk writes down: owed lessons, registers, statements of hours and exchanges, as plain
values.
"""

from collections.abc import Collection, Hashable
from datetime import date, datetime
from typing import NamedTuple


class Owed(NamedTuple):
    """A lesson that the school owes until `use_by`. `how` says how it was closed, `make_up` is the
    booking that makes it up.
    """

    id: int
    student: int
    use_by: date
    how: str = ""
    make_up: int | None = None
    carried_from: int | None = None

    @property
    def settled(self) -> bool:
        return bool(self.how) or self.make_up is not None


class Place(NamedTuple):
    """A held place of a meeting that has been, and every word that was entered for it, in order.
    `on` is the meeting's date on its instructor's clock.
    """

    booking: int
    meeting: int
    instructor: int
    on: date
    starts_at: datetime
    minutes: int
    entries: tuple[str, ...] = ()


class Line(NamedTuple):
    """One line of a statement; a counter-line counts an earlier one's minutes below 0."""

    meeting: int
    outcome: str
    counted: int
    takes_back: bool = False


class Statement(NamedTuple):
    """A statement of hours with its lines in the order of writing; both dates belong to it."""

    id: int
    instructor: int
    first_on: date
    last_on: date
    lines: tuple[Line, ...] = ()


class Move(NamedTuple):
    """What one family is asked: to leave the time of `place` for that of `takes`, each an
    instructor, a weekday from 0 and a minute of the day.
    """

    id: int
    student: int
    place: tuple[int, int, int]
    takes: tuple[int, int, int]


class Exchange(NamedTuple):
    """A cycle of families who exchange their weekly places; `yes` are the moves agreed to."""

    id: int
    moves: tuple[Move, ...]
    yes: frozenset[int] = frozenset()
    why: str = ""


class WeeklyTime(NamedTuple):
    """The time of a weekly place that a student has."""

    student: int
    at: tuple[int, int, int]


class Books(NamedTuple):
    """Every row of them."""

    owed: frozenset[Owed] = frozenset()
    places: frozenset[Place] = frozenset()
    statements: frozenset[Statement] = frozenset()
    exchanges: frozenset[Exchange] = frozenset()
    times: frozenset[WeeklyTime] = frozenset()

    def about(self, things: Collection[tuple[str, Hashable]]) -> "Books":
        """What belongs to these owed lessons, these instructors' books and these exchanges."""
        swaps = frozenset(row for row in self.exchanges if ("exchange", row.id) in things)
        asked = {move.student for row in swaps for move in row.moves}
        return Books(
            frozenset(
                row
                for row in self.owed
                if ("owed_lesson", row.id) in things or ("owed_lesson", row.carried_from) in things
            ),
            frozenset(row for row in self.places if ("books", row.instructor) in things),
            frozenset(row for row in self.statements if ("books", row.instructor) in things),
            swaps,
            frozenset(row for row in self.times if row.student in asked),
        )

    # ---- one row
    def owed_lesson(self, pk: int) -> Owed | None:
        return next((row for row in self.owed if row.id == pk), None)

    def statement(self, pk: int) -> Statement | None:
        return next((row for row in self.statements if row.id == pk), None)

    def exchange(self, pk: int) -> Exchange | None:
        return next((row for row in self.exchanges if row.id == pk), None)

    def register(self, meeting: int) -> list[Place]:
        """The places of one meeting, by the id of their booking."""
        return sorted(row for row in self.places if row.meeting == meeting)

    # ---- changes; a row replaces the one of its id
    def with_owed(self, new: Owed) -> "Books":
        return self._replace(owed=self.owed - {self.owed_lesson(new.id)} | {new})

    def with_statement(self, new: Statement) -> "Books":
        return self._replace(statements=self.statements - {self.statement(new.id)} | {new})

    def with_exchange(self, new: Exchange) -> "Books":
        return self._replace(exchanges=self.exchanges - {self.exchange(new.id)} | {new})


NO_BOOKS = Books()
