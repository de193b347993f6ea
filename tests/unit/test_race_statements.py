"""The checker of races for registers and statements of hours: what is legal passes, and faults made
on purpose are caught.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from tests.races.desk.book_rows import Books, Line, Place, Statement
from tests.races.events import Event
from tests.races.state import State
from tests.unit.plain_desk import NOON, PlainDesk
from tests.unit.race_histories import kinds

FIRST, LAST = date(2027, 2, 1), date(2027, 2, 2)
TAUGHT, AWAY = Line(21, "taught", 25), Line(22, "instructor-absent", 0)
HERE = [TAUGHT, Line(22, "taught", 25)]
"""What is said of meetings 21 and 22, of one place each: bookings 11 and 12."""
TAKEN_BACK = Line(22, "taught", -25, takes_back=True)
DATES = {"instructor": 1, "first_on": f"{FIRST}", "last_on": f"{LAST}"}


def reading(second: tuple[str, ...], *statements: tuple[Line, ...]) -> State:
    """Booking 11 was marked present; these are the words for booking 12, and the statements."""
    places = [_place(0, ("PRESENT",)), _place(1, second)]
    issued = [Statement(5 + n, 1, FIRST, LAST, lines) for n, lines in enumerate(statements)]
    books = Books(places=frozenset(places), statements=frozenset(issued))
    return replace(PlainDesk().state(), books=books)


def _place(number: int, entries: tuple[str, ...]) -> Place:
    on = timedelta(days=number)
    return Place(11 + number, 21 + number, 1, FIRST + on, NOON + on, 25, entries)


def marked(*entries: str, called: float = 0.0) -> Event:
    """The last word is new, and the answer shows them all."""
    shown = [{"attendance": word} for word in entries]
    return _asked(
        "register",
        called,
        {"results": [{"booking": 12, "register_entries": shown}]},
        meeting=22,
        marks=[{"booking": 12, "attendance": entries[-1]}],
    )


def issued(*lines: Line, pk: int = 5, called: float = 0.0) -> Event:
    return _asked("issue", called, _shown(pk, lines), status=201, **DATES)


def corrected(*lines: Line, called: float = 0.0) -> Event:
    return _asked("correct", called, _shown(5, lines), statement=5)


def refused(operation: str, code: str, called: float = 0.0) -> Event:
    sent: Mapping[str, Any] = DATES if operation == "issue" else {"statement": 5}
    return _asked(operation, called, {"code": code}, status=409, **sent)


def _asked(
    operation: str, called: float, body: Mapping[str, Any], status: int = 200, **sent: Any
) -> Event:
    """Asked for one second."""
    return Event(1, operation, {"books": 1, **sent}, called, called + 1, status, body)


def _shown(pk: int, lines: tuple[Line, ...]) -> dict[str, Any]:
    names = ("meeting", "outcome", "counted_minutes", "takes_back")
    return {
        "id": pk,
        "lines": [dict(zip(names, line, strict=True)) for line in lines],
        "differing": [],
    }


ABSENT = ("PRESENT", "INSTRUCTOR_ABSENT")


def test_a_statement_says_what_the_registers_said_at_one_instant() -> None:
    """Before a correction that was under way, or after it."""
    before, mark = reading(("PRESENT",)), marked(*ABSENT)
    first, then = (*HERE,), (TAUGHT, AWAY)
    assert kinds([mark, issued(*first)], before, reading(ABSENT, first)) == set()
    assert kinds([mark, issued(*then)], before, reading(ABSENT, then)) == set()


def test_a_statement_that_missed_a_correction_is_caught() -> None:
    """The register was acknowledged before anybody asked for the statement."""
    late = issued(*HERE, called=5.0)
    events = [marked(*ABSENT), late]
    assert kinds(events, reading(("PRESENT",)), reading(ABSENT, (*HERE,))) == {"not-linearisable"}


def test_a_statement_over_an_open_register_is_caught() -> None:
    """Refused until the register is marked, and not afterwards."""
    before, mark = reading(()), marked("PRESENT", called=2.0)
    after = reading(("PRESENT",), (*HERE,))
    early, late = refused("issue", "register-open"), issued(*HERE, called=4.0)
    assert kinds([early, mark, late], before, after) == set()
    afterwards = refused("issue", "register-open", called=6.0)
    assert kinds([mark, late, afterwards], before, after) == {"false-refusal"}
    open_line = Line(22, "register-open", 0)
    opened = issued(TAUGHT, open_line)
    assert kinds([opened], before, reading((), (TAUGHT, open_line))) == {"not-linearisable"}


def test_a_second_statement_of_the_same_days_is_caught() -> None:
    """Its refusal needs the first one."""
    before, after = reading(("PRESENT",)), reading(("PRESENT",), (*HERE,))
    no = refused("issue", "already-done", called=2.0)
    assert kinds([issued(*HERE), no], before, after) == set()
    assert kinds([no], before, before) == {"false-refusal"}
    two = reading(("PRESENT",), (*HERE,), (*HERE,))
    assert kinds([issued(*HERE), issued(*HERE, pk=6)], before, two) == {"not-linearisable"}


def test_a_correction_adds_what_differs_and_no_more() -> None:
    """Two at once: the line is taken back once, and the other finds nothing that differs."""
    before = reading(("PRESENT",), (*HERE,))
    lines = (*HERE, TAKEN_BACK, AWAY)
    mark, once = marked(*ABSENT), corrected(*lines, called=2.0)
    nothing = refused("correct", "already-done", called=2.0)
    assert kinds([mark, once, nothing], before, reading(ABSENT, lines)) == set()
    doubled = (*lines, TAKEN_BACK, AWAY)
    both = [mark, once, corrected(*doubled, called=2.0)]
    assert kinds(both, before, reading(ABSENT, doubled)) == {"not-linearisable"}


def test_a_line_that_changed_once_it_was_issued_is_caught() -> None:
    """Nobody corrected it; and what was answered is gone."""
    mark, before = marked(*ABSENT), reading(("PRESENT",), (*HERE,))
    assert kinds([mark], before, reading(ABSENT, (TAUGHT, AWAY))) == {"not-linearisable"}
    gone = issued(*HERE)
    assert kinds([gone], reading(("PRESENT",)), reading(("PRESENT",))) == {"acked-lost"}


def test_a_word_of_the_register_that_is_lost_is_caught() -> None:
    """Acknowledged and not there; or shown in an order in which nobody entered it."""
    before = reading(("PRESENT",))
    assert kinds([marked(*ABSENT)], before, before) == {"acked-lost"}
    later = marked("PRESENT", "LATE", called=2.0)
    end = reading((*ABSENT, "LATE"))
    assert kinds([marked(*ABSENT), later], before, end) == {"not-linearisable"}
