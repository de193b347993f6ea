"""Registers, and statements of hours that count what they say."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from tests.races.desk.book_rows import Books, Line, Place, Statement
from tests.races.desk.rows import Desk
from tests.races.desk.setting import Setting

CAME = {"PRESENT", "LATE"}


def outcome(register: list[Place]) -> str:
    """What became of a meeting that has been: taught as soon as one person came."""
    words = {row.entries[-1] if row.entries else "" for row in register}
    if "" in words:
        return "register-open"
    if words & CAME:
        return "taught"
    if "INSTRUCTOR_ABSENT" in words:
        return "instructor-absent"
    return "missed" if "ABSENT_WITHOUT_NOTICE" in words else "missed-with-notice"


def lines_now(books: Books, instructor: int, first_on: date, last_on: date) -> list[Line]:
    """One line for each meeting of these dates, by start."""
    theirs = [row for row in books.places if row.instructor == instructor]
    times = {(row.starts_at, row.meeting) for row in theirs if first_on <= row.on <= last_on}
    lines = []
    for _, meeting in sorted(times):
        register = books.register(meeting)
        became = outcome(register)
        counts = became in ("taught", "missed")
        lines.append(Line(meeting, became, register[0].minutes if counts else 0))
    return lines


def counter_lines(written: tuple[Line, ...], now: list[Line]) -> list[Line]:
    """What a correction adds: a line that differs is taken back, and the right one follows."""
    standing = {line.meeting: line for line in written}  # the last one of a meeting is never taken
    found = []
    for line in now:
        old = standing.get(line.meeting)
        if old != line:
            if old is not None:
                found.append(old._replace(counted=-old.counted, takes_back=True))
            found.append(line)
    return found


@dataclass(frozen=True, slots=True)
class MarkRegister:
    """Words for some places of a meeting, by booking. The same word again enters nothing."""

    meeting: int
    marks: Mapping[int, str]

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from ()

    def done(self, desk: Desk, setting: Setting) -> Desk:
        old = desk.books.register(self.meeting)
        new = [self._marked(row) for row in old]
        places = desk.books.places - frozenset(old) | frozenset(new)
        return desk._replace(books=desk.books._replace(places=places))

    def _marked(self, row: Place) -> Place:
        word = self.marks.get(row.booking)
        if word is None or row.entries[-1:] == (word,):
            return row
        return row._replace(entries=(*row.entries, word))


@dataclass(frozen=True, slots=True)
class IssueStatement:
    """`statement` comes without lines: they are what counts now."""

    statement: Statement

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        new = self.statement
        for row in desk.books.statements:
            apart = row.last_on < new.first_on or new.last_on < row.first_on
            if row.instructor == new.instructor and not apart:
                yield "already-done"
        lines = self._lines(desk)
        if not lines:
            yield "invalid"
        if any(line.outcome == "register-open" for line in lines):
            yield "register-open"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        issued = self.statement._replace(lines=tuple(self._lines(desk)))
        return desk._replace(books=desk.books.with_statement(issued))

    def _lines(self, desk: Desk) -> list[Line]:
        of = self.statement
        return lines_now(desk.books, of.instructor, of.first_on, of.last_on)


@dataclass(frozen=True, slots=True)
class CorrectStatement:
    """Nothing that is written is changed; lines are added."""

    statement: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        new = self._new(desk)
        if not new:
            yield "already-done"
        if any(line.outcome == "register-open" for line in new):
            yield "register-open"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        row = desk.books.statement(self.statement)
        assert row is not None
        corrected = row._replace(lines=(*row.lines, *self._new(desk)))
        return desk._replace(books=desk.books.with_statement(corrected))

    def _new(self, desk: Desk) -> list[Line]:
        row = desk.books.statement(self.statement)
        if row is None:
            return []
        return counter_lines(
            row.lines, lines_now(desk.books, row.instructor, row.first_on, row.last_on)
        )
