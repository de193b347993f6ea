"""Fabricated histories: a desk kept in plain dictionaries, one request after another, that notes
each answer and each row.

It shares no code with the checker's model, so that the two hold each other.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.races.events import Event
from tests.races.state import BookingRow, MeetingRow, State, WaitingRow

MINUTE = timedelta(minutes=1)
NOON = datetime(2027, 3, 8, 12, tzinfo=UTC)
READ = datetime(2027, 3, 1, 9, tzinfo=UTC)
LESSON = 1
"""An offering of 25 minutes and 5 of changeover."""


class PlainDesk:
    """Rows by id. `ask` does one request and returns its line of the history, from `clock` to half
    a second later.
    """

    def __init__(self) -> None:
        self.meetings: dict[int, MeetingRow] = {}
        self.bookings: dict[int, BookingRow] = {}
        self.waiting: dict[int, WaitingRow] = {}
        self.clock = 0.0

    def state(self) -> State:
        return State(
            meetings={pk: self._counted(row) for pk, row in self.meetings.items()},
            bookings=dict(self.bookings),
            waiting=dict(self.waiting),
            offerings={LESSON: (25, 5)},
            read_at=READ,
            read_monotonic=self.clock,
        )

    def group(
        self, places: int, *, starts_at: datetime = NOON, instructor: int = 9, listeners: int = 0
    ) -> int:
        pk = len(self.meetings) + 1
        ends_at = starts_at + 60 * MINUTE
        self.meetings[pk] = MeetingRow(
            id=pk,
            instructor=instructor,
            starts_at=starts_at,
            ends_at=ends_at,
            held_until=ends_at + 10 * MINUTE,
            one_on_one=False,
            places=places,
            listener_places=listeners,
        )
        return pk

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

    def _refuses_slot(self, student: int, instructor: int, start: datetime, but: int) -> str:
        until = start + 30 * MINUTE
        for row in self.meetings.values():
            if (
                row.live
                and row.instructor == instructor
                and row.id != but
                and row.starts_at < until
                and start < row.held_until
            ):
                return "taken"
        return "own-clash" if self._clashes(student, start, start + 25 * MINUTE, but) else ""

    def _clashes(self, student: int, start: datetime, end: datetime, but: int) -> bool:
        theirs = (
            row
            for row in self.bookings.values()
            if row.student == student and row.standing == "HELD" and row.meeting != but
        )
        return any(row.starts_at < end and start < row.ends_at for row in theirs)

    def _live(self, meeting: int) -> list[BookingRow]:
        return [row for row in self.bookings.values() if row.meeting == meeting and row.live]

    def _line(self, meeting: int) -> list[WaitingRow]:
        return sorted(
            (w for w in self.waiting.values() if w.meeting == meeting and w.live and not w.offer),
            key=lambda w: w.order,
        )

    def _place(
        self, meeting: int, student: int, standing: str, waits: int | None
    ) -> Mapping[str, Any]:
        pk, row = len(self.bookings) + 1, self.meetings[meeting]
        self.bookings[pk] = BookingRow(
            id=pk,
            meeting=meeting,
            student=student,
            standing=standing,
            starts_at=row.starts_at,
            ends_at=row.ends_at,
            waiting_place=waits,
        )
        return {"id": pk, "meeting": meeting}

    def _end(self, row: BookingRow, why: str) -> None:
        self.bookings[row.id] = replace(row, standing="ENDED", ended_why=why)
        if row.standing == "OFFERED" and row.waiting_place is not None:
            self.waiting[row.waiting_place] = replace(
                self.waiting[row.waiting_place], ended_why=why
            )
        if not self.meetings[row.meeting].one_on_one:
            self._offer(row.meeting)

    def _offer(self, meeting: int) -> None:
        while len(self._live(meeting)) < self.meetings[meeting].places and (
            line := self._line(meeting)
        ):
            made = self._place(meeting, line[0].student, "OFFERED", line[0].id)
            self.waiting[line[0].id] = replace(line[0], offer=made["id"])

    def _counted(self, row: MeetingRow) -> MeetingRow:
        return replace(row, taken=len(self._live(row.id)))
