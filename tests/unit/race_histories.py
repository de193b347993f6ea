"""Fabricated histories: a desk kept in plain dictionaries, one request after another, that notes
each answer and each row.

It shares no code with the checker's model, so that the two hold each other.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from tests.races.events import Event
from tests.races.history import check
from tests.races.state import BookingRow, MeetingRow, State, WaitingRow
from tests.unit.race_rows import LESSON, MINUTE, NOON, READ, Rows


class PlainDesk(Rows):
    """`ask` does one request and returns its line of the history, from `clock` to half a second
    later.
    """

    def ask(self, operation: str, **sent: Any) -> Event:
        self.clock += 1.0
        status, body = getattr(self, "_" + operation.replace("-", "_"))(**sent)
        if status == 409:
            body = {"code": body}
        return Event(
            int(sent.get("student", 0)), operation, sent, self.clock, self.clock + 0.5, status, body
        )

    # One method a request: (status, body), or (409, code).

    def _book_slot(
        self, *, student: int, instructor: int, starts_at: str, offering: int
    ) -> tuple[int, Any]:
        start = datetime.fromisoformat(starts_at)
        if refusal := self._refuses_slot(student, instructor, start, 0):
            return 409, refusal
        meeting, pk = len(self.meetings) + 1, len(self.bookings) + 1
        ends_at = start + 25 * MINUTE
        self.meetings[meeting] = MeetingRow(
            id=meeting,
            instructor=instructor,
            starts_at=start,
            ends_at=ends_at,
            held_until=ends_at + 5 * MINUTE,
        )
        self.bookings[pk] = BookingRow(
            id=pk, meeting=meeting, student=student, starts_at=start, ends_at=ends_at
        )
        return 201, {"id": pk, "meeting": meeting, "starts_at": starts_at}

    def _book_place(self, *, student: int, meeting: int) -> tuple[int, Any]:
        row = self.meetings[meeting]
        if any(b.student == student for b in self._live(meeting)):
            return 409, "already-booked"
        if self._clashes(student, row.starts_at, row.ends_at, meeting):
            return 409, "own-clash"
        if len(self._live(meeting)) >= row.places or self._line(meeting):
            return 409, "no-place"
        return 201, self._place(meeting, student, "HELD", None)

    def _cancel(self, *, booking: int) -> tuple[int, Any]:
        row = self.bookings.get(booking)
        if row is None or not row.live:
            return 409, "already-ended"
        self._end(row, "cancelled-in-time")
        meeting = self.meetings[row.meeting]
        if meeting.one_on_one:
            self.meetings[row.meeting] = replace(meeting, live=False)
        return 200, {"id": booking}

    def _move(self, *, booking: int, starts_at: str) -> tuple[int, Any]:
        row = self.bookings.get(booking)
        if row is None or row.standing != "HELD":
            return 409, "already-ended"
        start, meeting = datetime.fromisoformat(starts_at), self.meetings[row.meeting]
        if refusal := self._refuses_slot(row.student, meeting.instructor, start, row.meeting):
            return 409, refusal
        ends_at = start + 25 * MINUTE
        self.meetings[row.meeting] = replace(
            meeting, starts_at=start, ends_at=ends_at, held_until=ends_at + 5 * MINUTE
        )
        self.bookings[booking] = replace(row, starts_at=start, ends_at=ends_at)
        return 200, {"id": booking, "starts_at": starts_at}

    def _wait(self, *, student: int, meeting: int) -> tuple[int, Any]:
        if any(b.student == student for b in self._live(meeting)):
            return 409, "already-booked"
        if len(self._live(meeting)) < self.meetings[meeting].places and not self._line(meeting):
            return 409, "places-free"
        if any(
            w.student == student and w.meeting == meeting and w.live for w in self.waiting.values()
        ):
            return 409, "already-waiting"
        pk = len(self.waiting) + 1
        self.waiting[pk] = WaitingRow(
            id=pk, meeting=meeting, student=student, joined_at=READ + timedelta(seconds=pk)
        )
        return 201, {"id": pk}

    def _accept(self, *, booking: int) -> tuple[int, Any]:
        row = self.bookings.get(booking)
        if row is None or row.standing != "OFFERED":
            return 409, "offer-ended"
        if self._clashes(row.student, row.starts_at, row.ends_at, row.meeting):
            return 409, "own-clash"
        self.bookings[booking] = replace(row, standing="HELD")
        assert row.waiting_place is not None
        self.waiting[row.waiting_place] = replace(
            self.waiting[row.waiting_place], ended_why="placed"
        )
        return 200, {"id": booking}

    def _decline(self, *, booking: int) -> tuple[int, Any]:
        row = self.bookings.get(booking)
        if row is None or row.standing != "OFFERED":
            return 409, "offer-ended"
        self._end(row, "declined")
        return 200, {"id": booking}

    def _places(self, *, meeting: int, places: int) -> tuple[int, Any]:
        if places < len(self._live(meeting)):
            return 409, "has-bookings"
        self.meetings[meeting] = replace(self.meetings[meeting], places=places)
        self._offer(meeting)
        return 200, {"id": meeting}


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


def refuses(event: Event, code: str) -> Event:
    return replace(event, status=409, body={"code": code})


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
