"""A refusal in a race needs a witness: something that stood meanwhile and justifies it."""

from dataclasses import replace

from tests.races.events import Event
from tests.races.history import check
from tests.unit.race_crowds import places_race
from tests.unit.race_histories import (
    PlainDesk,
    kinds,
    slot,
)


def test_a_refusal_without_a_witness_is_caught() -> None:
    """ "taken" of a time that nobody ever wanted, "no-place" with eleven of twelve taken,
    "own-clash" of a student with nothing.
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
