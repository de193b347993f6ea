"""Many clients after one time, or after the places of one meeting."""

from tests.races.events import Event
from tests.races.state import State
from tests.unit.race_histories import (
    PlainDesk,
    slot,
    together,
)


def race_for_one_slot() -> tuple[PlainDesk, State, list[Event]]:
    desk = PlainDesk()
    before = desk.state()
    return (
        desk,
        before,
        together([desk.ask("book-slot", **slot(student)) for student in range(1, 101)]),
    )


def places_race(places: int, clients: int) -> tuple[PlainDesk, State, list[Event], int]:
    desk = PlainDesk()
    meeting = desk.group(places)
    before = desk.state()
    events = [
        desk.ask("book-place", student=student, meeting=meeting)
        for student in range(1, clients + 1)
    ]
    return desk, before, together(events), meeting
