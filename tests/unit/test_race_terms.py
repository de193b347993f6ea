"""The checker of races, on keys, versions, days away and whole terms: what is legal passes, each
fault is caught.
"""

from dataclasses import replace
from datetime import datetime
from typing import Any

from tests.races.events import Event
from tests.races.history import check
from tests.unit.plain_desk import LESSON, PlainDesk
from tests.unit.race_histories import kinds, slot, together, without_booking


def test_one_key_has_one_effect_and_one_answer() -> None:
    """Fifty times the same answer for one booking; another answer, or another body with the same
    key, is told from it.
    """
    desk = PlainDesk()
    before = desk.state()
    first = desk.ask("book-slot", **slot(1))
    first = replace(first, arguments={**first.arguments, "key": "a"})
    events = [replace(first, called=first.called + i / 100, returned=5.0 + i) for i in range(50)]
    assert check(events, before, desk.state()) == []
    assert kinds([*events, replace(first, body={**first.body, "id": 7})], before, desk.state()) == {
        "not-linearisable"
    }
    other = replace(
        first, arguments={**slot(1, 60), "key": "a"}, status=422, body={"code": "key-reused"}
    )
    assert check([*events, other], before, desk.state()) == []
    same = replace(other, arguments=first.arguments)
    assert kinds([*events, same], before, desk.state()) == {"false-refusal"}


def test_one_version_is_changed_once() -> None:
    """One 200 and the rest "stale"; two 200 for one version are caught, and "stale" where nothing
    had changed.
    """
    state = PlainDesk().state()
    sent = {"thing": "intake-1", "if_match": '"booking-1-1"'}
    won = Event(1, "patch", sent, 0.0, 1.0, 200, {})
    stale = Event(2, "patch", sent, 0.0, 1.0, 412, {"code": "stale"})
    assert check([won, stale, stale], state, state) == []
    assert kinds([won, won, stale], state, state) == {"not-linearisable"}
    assert kinds([stale], state, state) == {"false-refusal"}


def test_a_renewed_address_shows_nothing_at_the_old() -> None:
    """From the renewal on the old address is not found and the new one is."""
    state = PlainDesk().state()
    renewed = Event(
        1,
        "renew",
        {"feed": 1},
        1.0,
        2.0,
        200,
        {"address": "https://rowanmere.example/calendar/new.ics"},
    )
    fetches = [
        Event(2, "fetch", {"feed": 1, "secret": "old"}, 0.5, 1.5, status, {})
        for status in (200, 404)
    ]
    after = Event(3, "fetch", {"feed": 1, "secret": "new"}, 3.0, 4.0, 200, {})
    assert check([renewed, *fetches, after], state, state) == []
    late = replace(fetches[0], called=3.0, returned=4.0)
    assert kinds([renewed, late], state, state) == {"not-linearisable"} or kinds(
        [renewed, late], state, state
    ) == {"false-refusal"}


def away(call_off: bool, status: int, **body: Any) -> Event:
    sent = {
        "instructor": 1,
        "first_on": "2027-03-08",
        "last_on": "2027-03-08",
        "call_off": call_off,
    }
    return Event(9, "days-away", sent, 0.0, 0.5, status, body)


def test_days_away_close_the_days_for_good() -> None:
    """A booking after them is refused; one that succeeds all the same is caught."""
    desk = PlainDesk()
    before = desk.state()
    refused = Event(1, "book-slot", slot(1), 1.0, 2.0, 409, {"code": "outside-hours"})
    assert check([away(False, 201), refused], before, desk.state()) == []
    assert kinds([refused], before, desk.state()) == {"false-refusal"}
    booked = desk.ask("book-slot", **slot(1))
    assert kinds([away(False, 201), booked], before, desk.state()) == {"not-linearisable"}
    assert (
        check(together([away(False, 409, code="has-bookings"), booked]), before, desk.state()) == []
    )
    assert kinds([away(False, 409, code="has-bookings"), booked], before, desk.state()) == {
        "false-refusal"
    }


def test_who_has_left_cannot_be_dismissed_again() -> None:
    """The second dismissal is told so once the first has happened, and never before it."""
    state = PlainDesk().state()
    first, second = (
        Event(n, "dismiss", {"instructor": 1, "call_off": False}, n, n + 0.5, 200, {})
        for n in (1, 2)
    )
    told = replace(second, status=409, body={"code": "already-ended"})
    assert check([first, told], state, state) == []
    assert kinds([replace(told, called=0.0, returned=0.5), first], state, state) == {
        "false-refusal"
    }


def test_days_away_may_call_off_what_stands() -> None:
    """All of it and nothing else, and the answer lists it."""
    desk = PlainDesk()
    lessons = [desk.ask("book-slot", **slot(student, 60 * student)).body for student in (1, 2)]
    before = desk.state()
    for lesson in lessons:
        desk.ask("cancel", booking=lesson["id"])
    listed = [{"id": lesson["meeting"]} for lesson in lessons]
    assert check([away(True, 201, called_off=listed)], before, desk.state()) == []
    assert kinds([away(True, 201, called_off=listed[:1])], before, desk.state()) == {
        "not-linearisable"
    }
    assert kinds([away(True, 201, called_off=listed)], before, before) == {"not-linearisable"}


def weekly(student: int, called: float, **answer: Any) -> Event:
    sent = {
        "student": student,
        "instructor": 1,
        "offering": LESSON,
        "term": 1,
        "weekday": "MO",
        "wall_time": "12:00",
    }
    return Event(student, "weekly", sent, called, called + 0.5, answer.pop("status"), answer)


def test_a_weekly_place_is_held_whole_or_not_at_all() -> None:
    """Both lessons are there and the rival is refused; one missing lesson is caught."""
    desk = PlainDesk()
    before = desk.state()
    lessons = [desk.ask("book-slot", **slot(1, week * 7 * 24 * 60)) for week in range(2)]
    held = [{"booking": e.body["id"], "starts_at": e.arguments["starts_at"]} for e in lessons]
    dates = [
        {"on": datetime.fromisoformat(lesson["starts_at"]).date().isoformat(), "code": "taken"}
        for lesson in held
    ]
    events = [
        weekly(1, 0.0, status=201, id=1, lessons=held),
        weekly(2, 0.2, status=409, code="term-dates", dates=dates),
    ]
    assert check(events, before, desk.state()) == []
    assert "acked-lost" in kinds(events, before, without_booking(desk.state(), 2))
    assert kinds(events[1:], before, before) == {"false-refusal"}
