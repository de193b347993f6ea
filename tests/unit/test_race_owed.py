"""The checker of races for owed lessons: what is legal passes, and faults made on purpose are
caught.
"""

from dataclasses import replace
from datetime import date
from typing import Any

from tests.races.desk.book_rows import Books, Owed
from tests.races.events import Event
from tests.races.state import State
from tests.unit.plain_desk import PlainDesk
from tests.unit.race_histories import kinds, slot, together

MAY, JULY = date(2027, 5, 31), date(2027, 7, 31)
OWED = Owed(1, student=1, use_by=MAY)
SETTLED, EXTENDED = OWED._replace(how="by-hand"), OWED._replace(use_by=JULY)
CARRIED = [OWED._replace(how="carried-out"), Owed(2, 1, JULY, carried_from=1)]
LAPSED = OWED._replace(how="lapsed")


def decided(verb: str, called: float, code: str = "", **more: Any) -> Event:
    """An admin's answer about owed lesson 1; a carried one is a new row, 2."""
    sent = {"owed_lesson": 1, "use_by": f"{JULY}", **more}
    body = {"code": code} if code else {"id": 2 if verb == "carry" else 1}
    status = {"": 200, "stale": 412}.get(code, 409)
    return Event(1, verb, sent, called, called + 1, status, body)


def reading(*owed: Owed, desk: PlainDesk | None = None) -> State:
    return replace((desk or PlainDesk()).state(), books=Books(owed=frozenset(owed)))


def found(events: list[Event], before: Owed, *after: Owed) -> set[str]:
    return kinds(events, reading(before), reading(*after))


def test_one_of_two_admins_settles_it_and_the_other_is_refused() -> None:
    """Whoever is second finds it settled, or changed since they read it; an extension may come
    first.
    """
    settle, late = decided("settle", 0.0), decided("carry", 0.0, "owed-settled")
    assert found([settle, late], OWED, SETTLED) == set()
    stale = decided("carry", 0.0, "stale", if_match='"owed-lesson-1-1"')
    assert found([settle, stale], OWED, SETTLED) == set()
    extend, carry = decided("extend", 0.0), decided("carry", 2.0)
    gone = EXTENDED._replace(how="carried-out")
    assert found([extend, carry], OWED, gone, CARRIED[1]) == set()


def test_two_admins_who_both_settle_it_are_caught() -> None:
    """A refund, and the same lesson owed in another term."""
    both = together([decided("settle", 0.0), decided("carry", 0.0)])
    assert found(both, OWED, *CARRIED) == {"acked-lost"}
    twice = together([decided("settle", 0.0), decided("settle", 0.0)])
    assert found(twice, OWED, SETTLED) == {"not-linearisable"}


def test_a_lesson_that_was_settled_and_is_extended_is_caught() -> None:
    """Two of one version, or one after the other: the second yes has no order."""
    events = together([decided("settle", 0.0), decided("extend", 0.0)])
    assert found(events, OWED, EXTENDED._replace(how="by-hand")) == set()
    assert found([events[0], decided("extend", 9.0)], OWED, SETTLED) == {"not-linearisable"}
    tag = {"if_match": '"owed-lesson-1-1"'}
    first, second = decided("extend", 0.0, **tag), decided("settle", 0.0, **tag)
    settled = EXTENDED._replace(how="by-hand")
    assert found(together([first, second]), OWED, settled) == {"not-linearisable"}


def test_a_refusal_needs_what_settled_it() -> None:
    """Nobody has settled it; what lapsed cannot be settled until it is extended."""
    refused = decided("settle", 0.0, "owed-settled")
    assert found([refused], OWED, OWED) == {"false-refusal"}
    assert found([refused], LAPSED, LAPSED) == set()
    assert found([decided("extend", 2.0), refused], LAPSED, EXTENDED) == set()
    after = decided("settle", 4.0, "owed-settled")
    assert found([decided("extend", 2.0), after], LAPSED, EXTENDED) == {"false-refusal"}
    unknown = decided("settle", 0.0, "taken")
    assert found([unknown], OWED, OWED) == {"false-refusal"}


def test_a_row_in_another_term_that_nobody_carried_is_caught() -> None:
    """Settled, and owed again beside it."""
    assert found([decided("settle", 0.0)], OWED, SETTLED, CARRIED[1]) == {"not-linearisable"}


def test_a_make_up_is_booked_once() -> None:
    """Two guardians at two starts: the second is refused, and a second lesson has no order."""
    desk = PlainDesk()
    before = reading(OWED, desk=desk)
    first = _made_up(desk, 0)
    after = reading(OWED._replace(make_up=1), desk=desk)
    late = replace(first, status=409, body={"code": "owed-settled"})
    assert kinds(together([first, late]), before, after) == set()
    settled = decided("settle", 9.0, "owed-settled")
    assert kinds([first, settled], before, after) == set()

    second = _made_up(desk, 60)
    both = reading(OWED._replace(make_up=1), desk=desk)
    assert kinds(together([first, second]), before, both) == {"not-linearisable"}


def test_a_make_up_of_what_an_admin_has_settled_is_caught() -> None:
    """Both were told that they succeeded."""
    desk = PlainDesk()
    before = reading(OWED, desk=desk)
    booked = _made_up(desk, 0)
    after = reading(SETTLED._replace(make_up=1), desk=desk)
    events = together([booked, decided("settle", 0.0)])
    assert kinds(events, before, after) == {"not-linearisable"}


def _made_up(desk: PlainDesk, minutes: int) -> Event:
    asked = desk.ask("book-slot", **slot(1, minutes))
    return replace(asked, arguments={**asked.arguments, "owed_lesson": 1})
