"""Places in group meetings, for the model and for the product."""

from typing import Any

from bookings.domain.vocabulary import PlaceKind
from bookings.operations import offers, places, waiting
from tests.races.desk.places import BookPlace, ChangePlace, LeavePlace
from tests.races.desk.rows import Wait
from tests.races.desk.waiting import Accept, Decline, JoinLine, LeaveLine
from tests.races.simulation.both import Both

REASON = "Agreed on the telephone."


class PlaceActs(Both):
    def book_place(
        self, student: int, meeting: int, kind: str, *, by_office: bool = False, ahead: bool = False
    ) -> str:
        """By an admin with a reason, at times ahead of those who wait."""
        said: dict[str, Any] = {"reason": REASON, "ahead_of_queue": ahead} if by_office else {}
        actor = self.school.admin if by_office else self._family(student)
        who, where = self.school.students[student], self._meeting(meeting)
        return self._act(
            BookPlace(student, meeting, kind, ahead=ahead, any_level=by_office),
            lambda: places.book_place(
                actor=actor,
                student=who,
                meeting=where,
                place_kind=PlaceKind(kind),
                now=self.now,
                **said,
            ),
        )

    def join_line(self, student: int, meeting: int, kind: str) -> str:
        wait = Wait(len(self.desk.waits), self.now, meeting, student, kind)
        return self._queued(JoinLine(wait), waiting.join_waiting_list, student, meeting, kind)

    def leave_line(self, student: int, meeting: int, kind: str) -> str:
        act = LeaveLine(student, meeting, kind)
        return self._queued(act, waiting.leave_waiting_list, student, meeting, kind)

    def leave_place(self, booking: int, *, by_office: bool = False) -> str:
        actor, theirs = self._theirs(booking)
        actor, reason = (self.school.admin, REASON) if by_office else (actor, "")
        return self._act(
            LeavePlace(booking, by_office),
            lambda: places.leave_place(actor=actor, booking=theirs, reason=reason, now=self.now),
        )

    def change_place(self, booking: int, meeting: int) -> str:
        actor, theirs = self._theirs(booking)
        return self._act(
            ChangePlace(booking, meeting),
            lambda: places.move_place(
                actor=actor, booking=theirs, meeting=self._meeting(meeting), now=self.now
            ),
        )

    def accept(self, booking: int) -> str:
        actor, theirs = self._theirs(booking)
        return self._act(
            Accept(booking),
            lambda: offers.accept_offer(actor=actor, booking=theirs, now=self.now),
        )

    def decline(self, booking: int) -> str:
        actor, theirs = self._theirs(booking)
        return self._act(
            Decline(booking),
            lambda: offers.decline_offer(actor=actor, booking=theirs, now=self.now),
        )
