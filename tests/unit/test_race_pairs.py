"""Histories in which two lessons of a family move in one request."""

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from tests.races.events import Event
from tests.races.history import check
from tests.races.state import State
from tests.unit.plain_desk import MINUTE, PlainDesk
from tests.unit.race_histories import at, kinds, slot, together

FAMILY, OTHER = {"booking": 1, "with_sibling": 2}, 3


class PairDesk(PlainDesk):
    """Two lessons of half an hour each, one after the other, at noon."""

    def __init__(self) -> None:
        super().__init__()
        for student in (1, 2):
            self.ask("book-slot", **slot(student, 30 * (student - 1)))

    def _move_pair(self, *, booking: int, with_sibling: int, starts_at: str) -> tuple[int, Any]:
        step = datetime.fromisoformat(starts_at) - self.bookings[booking].starts_at
        kept = dict(self.meetings), dict(self.bookings)
        pair = sorted((booking, with_sibling), key=lambda pk: self.bookings[pk].starts_at)
        first, second = reversed(pair) if step > 0 * MINUTE else pair
        meeting = self.bookings[second].meeting
        self.meetings[meeting] = replace(self.meetings[meeting], live=False)
        for pk in (first, second):
            row = self.bookings[pk]
            status, said = self._move(booking=pk, starts_at=(row.starts_at + step).isoformat())
            if status != 200:
                self.meetings, self.bookings = kept
                return status, said
            self.meetings[meeting] = replace(self.meetings[meeting], live=True)
        return 200, {"id": booking, "starts_at": starts_at}

    def moves(self, minutes: int) -> Event:
        """The family moves both so that the first starts then."""
        return self.ask("move-pair", **FAMILY, starts_at=at(minutes))


def only(after: State, moved: int, before: State) -> State:
    """The reading as if the other of the two had stayed."""
    stayed = before.bookings[3 - moved]
    return replace(
        after,
        bookings={**after.bookings, stayed.id: stayed},
        meetings={**after.meetings, stayed.meeting: before.meetings[stayed.meeting]},
    )


@pytest.mark.parametrize("minutes", [-120, -30, 5, 30, 90])
def test_both_move_by_one_step(minutes: int) -> None:
    """Also into the time that the other leaves, and with somebody who takes what they left."""
    desk = PairDesk()
    before, moved = desk.state(), desk.moves(minutes)
    took = desk.ask("book-slot", **slot(OTHER, 0 if minutes > 0 else 30))
    assert moved.status == 200
    assert check(together([took, moved]), before, desk.state()) == []


@pytest.mark.parametrize("moved", [1, 2])
def test_a_pair_of_which_only_one_moved_is_caught(moved: int) -> None:
    """Answered with yes, stored by half."""
    desk = PairDesk()
    before, event = desk.state(), desk.moves(120)
    assert check([event], before, desk.state()) == []
    assert kinds([event], before, only(desk.state(), moved, before)) & {
        "acked-lost",
        "not-linearisable",
    }


def test_a_sibling_that_moved_by_another_step_is_caught() -> None:
    """The two were next to each other, and no longer are."""
    desk = PairDesk()
    before, event = desk.state(), desk.moves(120)
    desk.ask("move", booking=2, starts_at=at(200))
    assert kinds([event], before, desk.state()) == {"not-linearisable"}


def test_a_pair_and_somebody_who_has_the_sibling_s_new_time_is_caught() -> None:
    """Whoever booked it was told so before the family asked."""
    desk = PairDesk()
    before = desk.state()
    took, moved = desk.ask("book-slot", **slot(OTHER, 150)), desk.moves(120)
    assert (took.status, moved.status, moved.body["code"]) == (201, 409, "taken")
    assert check([took, moved], before, desk.state()) == []
    both = replace(moved, status=200, body={"id": 1, "starts_at": at(120)})
    assert "acked-lost" in kinds([took, both], before, desk.state())


def test_a_pair_refused_without_a_reason_is_caught() -> None:
    """Nothing stands at the new times, and nothing ever did; what the two leave is no reason."""
    desk = PairDesk()
    before = desk.state()
    sent = {**FAMILY, "starts_at": at(30)}
    refused = Event(1, "move-pair", sent, 1.0, 2.0, 409, {"code": "taken"})
    assert kinds([refused], before, before) == {"false-refusal"}


def test_a_pair_that_was_parted_is_refused() -> None:
    """One of the two has moved by itself: "conflict" is true then, and false before."""
    desk = PairDesk()
    before = desk.state()
    parted = desk.ask("move", booking=2, starts_at=at(200))
    sent = {**FAMILY, "starts_at": at(60)}
    late = Event(1, "move-pair", sent, 500.0, 501.0, 409, {"code": "conflict"})
    assert check([parted, late], before, desk.state()) == []
    early = replace(late, called=0.1, returned=0.2)
    assert kinds([early, parted], before, desk.state()) == {"false-refusal"}
    done = replace(late, status=200, body={"id": 1, "starts_at": at(60)})
    assert kinds([parted, done], before, desk.state())
