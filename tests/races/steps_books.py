"""Requests about owed lessons, registers, statements and exchanges as acts of the model.

An answer that shows more than its request did, such as a statement's lines, is part of the act: it
is yielded only where the desk would show the same.
"""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from tests.races.acts import Acts, changes, succeeded
from tests.races.desk.book_rows import Line, Statement
from tests.races.desk.exchanges import SayNo, SayYes
from tests.races.desk.owed import CarryOwed, ExtendOwed, SettleOwed
from tests.races.desk.rows import Desk
from tests.races.desk.setting import Act
from tests.races.desk.statements import CorrectStatement, IssueStatement, MarkRegister
from tests.races.events import Event

NONE = -1
"""The id of what a refused request has not made."""


def settle(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield SettleOwed(event.arguments["owed_lesson"])


def extend(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    sent = event.arguments
    yield ExtendOwed(sent["owed_lesson"], date.fromisoformat(sent["use_by"]))


def carry(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    """The row in the other term is the one that names this as where it was carried from."""
    sent = event.arguments
    pk = sent["owed_lesson"]
    made = [row.id for row in acts.after.books.owed if row.carried_from == pk]
    for new in made if changes(event) else [NONE]:
        if new == event.body.get("id", new):
            yield CarryOwed(pk, date.fromisoformat(sent["use_by"]), new)


def mark(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    """The answer shows every word that was entered so far, the first one first."""
    act = MarkRegister(
        event.arguments["meeting"],
        {row["booking"]: row["attendance"] for row in event.arguments["marks"]},
    )
    register = act.done(desk, acts.setting).books.register(act.meeting)
    entered = {row.booking: row.entries for row in register}
    if not succeeded(event) or entered == _entered(event.body):
        yield act


def issue(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    sent = event.arguments
    dates = date.fromisoformat(sent["first_on"]), date.fromisoformat(sent["last_on"])
    wanted = (sent["instructor"], *dates)
    known = {row.id for row in acts.before.books.statements}
    made = [
        row.id
        for row in acts.after.books.statements
        if row.id not in known and (row.instructor, row.first_on, row.last_on) == wanted
    ]
    for pk in made if changes(event) else [NONE]:
        act = IssueStatement(Statement(pk, *wanted))
        if pk == event.body.get("id", pk) and _shows(acts, desk, event, act, pk):
            yield act


def correct(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    pk = event.arguments["statement"]
    act = CorrectStatement(pk)
    if _shows(acts, desk, event, act, pk):
        yield act


def say_yes(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield SayYes(event.arguments["exchange"], event.arguments["move"])


def say_no(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield SayNo(event.arguments["exchange"])


def _shows(acts: Acts, desk: Desk, event: Event, act: Act, pk: int) -> bool:
    """Whether the statement that was answered is what the act leaves, with nothing that differs."""
    if not succeeded(event):
        return True
    if desk.books.statement(pk) is None and event.operation == "correct":
        return False
    written = act.done(desk, acts.setting).books.statement(pk)
    assert written is not None
    return written.lines == lines_of(event.body) and event.body["differing"] == []


def lines_of(body: Mapping[str, Any]) -> tuple[Line, ...]:
    """The lines of a statement as it is answered."""
    return tuple(
        Line(line["meeting"], line["outcome"], line["counted_minutes"], line["takes_back"])
        for line in body["lines"]
    )


def _entered(body: Mapping[str, Any]) -> dict[int, tuple[str, ...]]:
    return {
        row["booking"]: tuple(entry["attendance"] for entry in row["register_entries"])
        for row in body["results"]
    }
