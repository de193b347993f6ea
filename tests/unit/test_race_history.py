"""The checker of races is itself checked: each kind of fault must be caught, and what is legal must
pass.
"""

from dataclasses import replace

import pytest

from tests.races.events import Event
from tests.races.history import check
from tests.races.state import State
from tests.unit.plain_desk import MINUTE, NOON, PlainDesk
from tests.unit.race_histories import at, kinds, slot, together, without_booking


def race_for_one_slot() -> tuple[PlainDesk, State, list[Event]]:
    desk = PlainDesk()
    before = desk.state()
    return (
        desk,
        before,
        together([desk.ask("book-slot", **slot(student)) for student in range(1, 101)]),
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


def places_race(places: int, clients: int) -> tuple[PlainDesk, State, list[Event], int]:
    desk = PlainDesk()
    meeting = desk.group(places)
    before = desk.state()
    events = [
        desk.ask("book-place", student=student, meeting=meeting)
        for student in range(1, clients + 1)
    ]
    return desk, before, together(events), meeting


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


def test_a_refusal_without_a_witness_is_caught() -> None:
    """Refusals with nothing behind them are faults.

    "taken" of a time that nobody wanted, "no-place" with eleven of twelve taken, "own-clash" of a
    student with nothing.
    """
    desk, before, events, meeting = places_race(12, 11)
    for operation, sent, code in (
        ("book-slot", slot(50), "taken"),
        ("book-slot", slot(51), "own-clash"),
        ("book-place", {"student": 52, "meeting": meeting}, "no-place"),
    ):
        never = Event(0, operation, sent, 1.0, 20.0, 409, {"code": code})
        assert kinds([*events, never], before, desk.state()) == {"false-refusal"}


def test_a_refusal_before_the_winner_was_called_is_caught() -> None:
    """The time was free from the refusal's call to its return."""
    desk = PlainDesk()
    before = desk.state()
    early = Event(2, "book-slot", slot(2), 0.1, 0.2, 409, {"code": "taken"})
    assert kinds([early, desk.ask("book-slot", **slot(1))], before, desk.state()) == {
        "false-refusal"
    }


def test_a_refusal_after_the_place_was_surely_free_again_is_caught() -> None:
    """Booked, cancelled, and a third time refused when the cancellation had long been answered."""
    desk = PlainDesk()
    before = desk.state()
    events = [desk.ask("book-slot", **slot(1)), desk.ask("cancel", booking=1)]
    late = Event(2, "book-slot", slot(2), 10.0, 11.0, 409, {"code": "taken"})
    assert kinds([*events, late], before, desk.state()) == {"false-refusal"}
    overlapping = replace(late, called=1.2, returned=11.0)
    assert check([*events, overlapping], before, desk.state()) == []


def test_no_place_though_never_full_at_one_moment_is_caught() -> None:
    """Each of two places was taken for a while, but never both at once: only the order shows it."""
    desk = PlainDesk()
    meeting = desk.group(2)
    before = desk.state()
    events = [
        desk.ask("book-place", student=1, meeting=meeting),
        desk.ask("cancel", booking=1),
        desk.ask("book-place", student=2, meeting=meeting),
    ]
    never = Event(
        3, "book-place", {"student": 3, "meeting": meeting}, 0.0, 20.0, 409, {"code": "no-place"}
    )
    assert kinds([*events, never], before, desk.state()) == {"false-refusal"}


def test_an_unheard_of_refusal_is_caught() -> None:
    """A race has no rule that says "past"."""
    event = Event(1, "book-slot", slot(1), 0.0, 1.0, 409, {"code": "past"})
    assert kinds([event], PlainDesk().state(), PlainDesk().state()) == {"false-refusal"}


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
