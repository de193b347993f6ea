"""The rows of a desk kept in plain dictionaries, and how a freed place is passed on."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.races.state import BookingRow, MeetingRow, State, WaitingRow

MINUTE = timedelta(minutes=1)
NOON = datetime(2027, 3, 8, 12, tzinfo=UTC)
READ = datetime(2027, 3, 1, 9, tzinfo=UTC)
LESSON = 1
"""An offering of 25 minutes and 5 of changeover."""


class Rows:
    """Rows by id, as a race would read them from the database."""

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
        hers = (
            row
            for row in self.bookings.values()
            if row.student == student and row.standing == "HELD" and row.meeting != but
        )
        return any(row.starts_at < end and start < row.ends_at for row in hers)

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
