"""The checker of races is itself checked: each kind of fault must be caught, and what is legal must
pass.
"""

from dataclasses import replace

import pytest

from tests.races.events import Event
from tests.races.history import busy, check, summary
from tests.races.violations import FIGURES
from tests.unit.race_crowds import places_race, race_for_one_slot
from tests.unit.race_histories import (
    MINUTE,
    NOON,
    PlainDesk,
    at,
    kinds,
    slot,
    together,
    without_booking,
)


def test_one_winner_of_a_hundred_is_legal() -> None:
    """One 201 and ninety-nine refusals, all under way at once: an order exists."""
    desk, before, events = race_for_one_slot()
    assert sum(event.status == 201 for event in events) == 1
    assert check(events, before, desk.state()) == []


def test_two_winners_of_one_slot_are_caught() -> None:
    """A second acknowledged booking of the same time: the rows overlap and no order gives both
    answers.
    """
    desk, before, events = race_for_one_slot()
    meeting = desk.meetings[1]
    desk.meetings[2] = replace(meeting, id=2)
    desk.bookings[2] = replace(desk.bookings[1], id=2, meeting=2, student=2)
    events[1] = replace(events[1], status=201, body={"id": 2, "meeting": 2, "starts_at": at(0)})
    assert kinds(events, before, desk.state()) == {"overlap", "not-linearisable"}


def test_changeover_belongs_to_the_overlap() -> None:
    """25 minutes and 5 of changeover: the next lesson begins 30 minutes later, and 25 minutes later
    it overlaps.
    """
    desk = PlainDesk()
    before = desk.state()
    events = [
        desk.ask("book-slot", **slot(1)),
        desk.ask("book-slot", **slot(2, 25)),
        desk.ask("book-slot", **slot(3, 30)),
    ]
    assert [event.status for event in events] == [201, 409, 201]
    assert check(events, before, desk.state()) == []
    desk.meetings[3] = replace(
        desk.meetings[1], id=3, starts_at=NOON + 25 * MINUTE, ends_at=NOON + 50 * MINUTE
    )
    assert "overlap" in kinds(events, before, desk.state())


def test_a_student_in_two_places_is_caught() -> None:
    """Two instructors, one student, one time."""
    desk = PlainDesk()
    before = desk.state()
    events = [desk.ask("book-slot", **slot(1)), desk.ask("book-slot", **slot(2, instructor=2))]
    desk.bookings[2] = replace(desk.bookings[2], student=1)
    events[1] = replace(events[1], arguments=slot(1, instructor=2))
    assert kinds(events, before, desk.state()) == {"overlap", "not-linearisable"}


@pytest.mark.parametrize("places", [1, 12, 50])
def test_as_many_winners_as_places_is_legal(places: int) -> None:
    """M places, a hundred clients: exactly M."""
    desk, before, events, _ = places_race(places, 100)
    assert check(events, before, desk.state()) == []


def test_one_place_too_many_is_caught() -> None:
    """Thirteen in twelve places."""
    desk, before, events, meeting = places_race(12, 100)
    made = desk._place(meeting, 13, "HELD", None)
    events[12] = replace(events[12], status=201, body=made)
    assert kinds(events, before, desk.state()) == {"over-places", "not-linearisable"}


def test_a_counter_that_is_not_its_rows_is_caught() -> None:
    """Counted and not there; where it was so before the race, the race has not done it."""
    desk, before, events, meeting = places_race(3, 5)
    after = desk.state()
    wrong = replace(after, meetings={meeting: replace(after.meetings[meeting], taken=2)})
    assert kinds(events, before, wrong) == {"over-places"}
    assert kinds([], wrong, wrong) == set()


def test_an_acknowledged_write_that_is_gone_is_caught() -> None:
    """201 and no row; a cancelled booking that stands; an accepted offer that is still open; a
    place in the queue that is not there.
    """
    desk, before, events = race_for_one_slot()
    assert "acked-lost" in kinds(events[:1], before, without_booking(desk.state(), 1))
    undone = Event(1, "cancel", {"booking": 1}, 500.0, 501.0, 200, {"id": 1})
    assert kinds([*events, undone], before, desk.state()) == {"acked-lost"}

    desk = PlainDesk()
    meeting = desk.group(1)
    desk.ask("book-place", student=1, meeting=meeting)
    before = desk.state()
    events = [desk.ask("wait", student=2, meeting=meeting), desk.ask("cancel", booking=1)]
    offered = desk.state()
    accepted = desk.ask("accept", booking=2)
    assert check([*events, accepted], before, desk.state()) == []
    assert kinds([*events, accepted], before, offered) == {"acked-lost"}
    assert "acked-lost" in kinds(events[:1], before, before)


def test_a_move_that_is_not_kept_is_caught() -> None:
    """Answered with the new start, stored at the old."""
    desk = PlainDesk()
    desk.ask("book-slot", **slot(1))
    before = desk.state()
    moved = desk.ask("move", booking=1, starts_at=at(60))
    assert check([moved], before, desk.state()) == []
    assert kinds([moved], before, before) == {"acked-lost"}


def test_moves_that_cross_are_legal_in_an_order() -> None:
    """One leaves the time that another takes: legal where they overlap, and not where the taker
    came first for certain.
    """
    desk = PlainDesk()
    desk.ask("book-slot", **slot(1))
    before = desk.state()
    left, took = desk.ask("move", booking=1, starts_at=at(60)), desk.ask("book-slot", **slot(2))
    assert took.status == 201
    assert check(together([took, left]), before, desk.state()) == []
    too_early = replace(took, called=0.1, returned=0.2)
    assert kinds([too_early, left], before, desk.state()) == {"not-linearisable"}


@pytest.mark.parametrize(
    ("status", "body", "kind"),
    [
        (500, {}, "server-error"),
        (503, {}, "server-error"),
        (500, {"detail": "database is locked"}, "locked"),
        (500, {"detail": "deadlock detected"}, "deadlock"),
    ],
)
def test_faults_of_the_server_are_counted(status: int, body: dict[str, str], kind: str) -> None:
    """5xx is a fault; its text says of which kind."""
    event = Event(1, "book-slot", slot(1), 0.0, 1.0, status, body)
    assert kinds([event], PlainDesk().state(), PlainDesk().state()) == {kind}


def test_busy_is_allowed_and_counted() -> None:
    """503 with a time to come again has changed nothing."""
    event = Event(1, "book-slot", slot(1), 0.0, 1.0, 503, {"code": "busy", "retry_after": 2})
    assert check([event], PlainDesk().state(), PlainDesk().state()) == []
    assert busy([event]) == 1


def test_an_answer_that_never_came_may_or_may_not_have_happened() -> None:
    """The row is there or not; both are legal; a row that no request can have made is not."""
    desk = PlainDesk()
    before = desk.state()
    event = replace(desk.ask("book-slot", **slot(1)), returned=None, status=None, body={})
    assert check([event], before, desk.state()) == []
    assert check([event], before, before) == []
    assert (
        kinds([], before, desk.state()) == set()
    )  # nothing was asked of that time, so nothing is compared
    other = replace(event, arguments=slot(2))
    assert kinds([other], before, desk.state()) == {"not-linearisable"}
    refused = Event(3, "book-slot", slot(3), 50.0, 51.0, 409, {"code": "taken"})
    assert check([event, refused], before, desk.state()) == []
    assert kinds([event, refused], before, before) == {"false-refusal"}


def test_every_figure_is_counted() -> None:
    """The summary names each figure, also where it is nought."""
    assert summary([]) == dict.fromkeys(FIGURES.values(), 0)
    event = Event(1, "book-slot", slot(1), 0.0, 1.0, 409, {"code": "taken"})
    counted = summary(check([event, event], PlainDesk().state(), PlainDesk().state()))
    assert counted["false_refusals"] == 2
    assert sum(counted.values()) == 2
