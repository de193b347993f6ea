"""Fabricated histories of proposed times, kept beside the plain desk's own rows."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from tests.races.state import BookingRow, ProposalRow, State
from tests.unit.plain_desk import READ, PlainDesk

LIFE = timedelta(hours=1)


class ProposingDesk(PlainDesk):
    """An instructor proposes times, and one of them is taken or none."""

    def __init__(self) -> None:
        super().__init__()
        self.proposals: dict[int, ProposalRow] = {}

    def state(self) -> State:
        return replace(super().state(), proposals=dict(self.proposals))

    def _propose(
        self, *, student: int, instructor: int, starts: Sequence[str], offering: int, **moved: int
    ) -> tuple[int, Any]:
        """`booking` is the lesson that would move."""
        already = sum(row.student == student for row in self._open())
        if already + len(starts) > 3:
            return 409, "limit-reached"
        for start in map(datetime.fromisoformat, starts):
            if refusal := self._refuses_slot(student, instructor, start, 0):
                return 409, refusal
        pk = len(self.proposals) + 1
        ids = [self._hold(pk, student, instructor, start, offering) for start in starts]
        moves = moved.get("booking")
        self.proposals[pk] = ProposalRow(
            id=pk, student=student, instructor=instructor, answer_by=READ + LIFE, moves=moves
        )
        return 201, {"id": pk, "times": [{"booking": booking} for booking in ids]}

    def _take(self, *, proposal: int, booking: int, student: int) -> tuple[int, Any]:
        row, time = self.proposals[proposal], self.bookings[booking]
        if row.ended_why:
            return 409, "offer-ended"
        if self._clashes(student, time.starts_at, time.ends_at, time.meeting):
            return 409, "own-clash"
        taken = self.meetings[time.meeting]
        if row.moves is None:
            self.bookings[booking] = replace(time, standing="HELD", answer_by=None)
            self.meetings[taken.id] = replace(taken, is_proposed=False)
        self.end_proposal(proposal, "placed", "not-chosen")
        if row.moves is None:
            return 200, {"id": booking}
        self.bookings[booking] = replace(self.bookings[booking], ended_why="moved")
        lesson = self.bookings[row.moves]
        times = {"starts_at": time.starts_at, "ends_at": time.ends_at}
        self.bookings[lesson.id] = replace(lesson, **times)
        old = self.meetings[lesson.meeting]
        self.meetings[old.id] = replace(old, held_until=taken.held_until, **times)
        return 200, {"id": lesson.id}

    def _decline_times(self, *, proposal: int, student: int) -> tuple[int, Any]:
        return self._ended(proposal, "declined")

    def _withdraw_times(self, *, proposal: int, student: int) -> tuple[int, Any]:
        return self._ended(proposal, "removed")

    def end_proposal(self, proposal: int, why: str, times_why: str = "") -> None:
        """The proposal ends, and the times that are still open with it."""
        for row in [row for row in self._open() if row.proposed == proposal]:
            self.bookings[row.id] = replace(row, standing="ENDED", ended_why=times_why or why)
            self.meetings[row.meeting] = replace(self.meetings[row.meeting], live=False)
        self.proposals[proposal] = replace(self.proposals[proposal], ended_why=why)

    def _ended(self, proposal: int, why: str) -> tuple[int, Any]:
        if self.proposals[proposal].ended_why:
            return 409, "offer-ended"
        self.end_proposal(proposal, why)
        return 200, {"id": proposal}

    def _open(self) -> list[BookingRow]:
        return [
            row
            for row in self.bookings.values()
            if row.proposed is not None and row.standing == "OFFERED"
        ]

    def _hold(self, proposal: int, student: int, instructor: int, start: str, offering: int) -> int:
        _, made = self._book_slot(
            student=student, instructor=instructor, starts_at=start, offering=offering
        )
        row = self.bookings[made["id"]]
        offered = replace(row, standing="OFFERED", proposed=proposal, answer_by=READ + LIFE)
        self.bookings[row.id] = offered
        self.meetings[row.meeting] = replace(self.meetings[row.meeting], is_proposed=True)
        return row.id
