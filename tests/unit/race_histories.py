"""What fabricated histories are made of, and what is said of them."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from tests.races.events import Event
from tests.races.history import check
from tests.races.state import State
from tests.unit.plain_desk import LESSON, MINUTE, NOON


def at(minutes: int) -> str:
    return (NOON + minutes * MINUTE).isoformat()


def slot(student: int, minutes: int = 0, instructor: int = 1) -> dict[str, Any]:
    return {
        "student": student,
        "instructor": instructor,
        "starts_at": at(minutes),
        "offering": LESSON,
    }


def together(events: Sequence[Event]) -> list[Event]:
    """The same answers to requests that were all under way at once."""
    first, last = min(e.called for e in events), max(e.returned or e.called for e in events)
    return [replace(event, called=first, returned=last) for event in events]


def kinds(events: Sequence[Event], before: State, after: State) -> set[str]:
    return {violation.kind for violation in check(events, before, after)}


def without_booking(state: State, pk: int) -> State:
    """The reading as if that booking, and the one-on-one that it made, had never been."""
    row = state.bookings[pk]
    meeting = state.meetings[row.meeting]
    kept = {
        key: m for key, m in state.meetings.items() if key != row.meeting or not meeting.one_on_one
    }
    if not meeting.one_on_one and row.live:
        kept[meeting.id] = replace(meeting, taken=meeting.taken - 1)
    return replace(
        state, meetings=kept, bookings={key: b for key, b in state.bookings.items() if key != pk}
    )
