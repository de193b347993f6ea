"""Owed lessons: settled outside, extended, carried to another term, made up."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from tests.races.desk.book_rows import Owed
from tests.races.desk.lessons import BookSlot
from tests.races.desk.rows import Desk
from tests.races.desk.setting import Setting

LAPSED, BY_HAND, CARRIED_OUT = "lapsed", "by-hand", "carried-out"


def against_settling(desk: Desk, pk: int, *, lapsed_too: bool = False) -> Iterator[str]:
    """What forbids to settle an owed lesson; one that has lapsed may still be changed."""
    row = desk.books.owed_lesson(pk)
    if row is None:
        yield "already-ended"
    elif row.settled and not (lapsed_too and row.how == LAPSED):
        yield "owed-settled"


@dataclass(frozen=True, slots=True)
class SettleOwed:
    """It was settled outside, such as by a refund."""

    owed: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from against_settling(desk, self.owed)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        return _changed(desk, self.owed, how=BY_HAND)


@dataclass(frozen=True, slots=True)
class ExtendOwed:
    """It may be made up until another date; what lapsed is owed again."""

    owed: int
    use_by: date

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from against_settling(desk, self.owed, lapsed_too=True)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        return _changed(desk, self.owed, use_by=self.use_by, how="")


@dataclass(frozen=True, slots=True)
class CarryOwed:
    """It is owed in another term instead, by a row of its own."""

    owed: int
    use_by: date
    new: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from against_settling(desk, self.owed, lapsed_too=True)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        desk = _changed(desk, self.owed, how=CARRIED_OUT)
        old = desk.books.owed_lesson(self.owed)
        assert old is not None
        there = Owed(self.new, old.student, self.use_by, carried_from=old.id)
        return desk._replace(books=desk.books.with_owed(there))


@dataclass(frozen=True, slots=True)
class MakeUp:
    """A one-on-one that settles an owed lesson."""

    booked: BookSlot
    owed: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from against_settling(desk, self.owed)
        yield from self.booked.refusals(desk, setting)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        desk = self.booked.done(desk, setting)
        return _changed(desk, self.owed, make_up=self.booked.lesson.booking)


def _changed(desk: Desk, pk: int, **values: object) -> Desk:
    row = desk.books.owed_lesson(pk)
    assert row is not None
    return desk._replace(books=desk.books.with_owed(row._replace(**values)))
