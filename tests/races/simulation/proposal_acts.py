"""Proposed times, and what the school books, for the model and for the product."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from bookings.models import ProposedTimes
from bookings.operations import booking as lessons
from bookings.operations import declining, move_requests, proposed_times, taking_times
from tests.races.desk.lessons import BookSlot, DeclineLesson
from tests.races.desk.places import against_ending
from tests.races.desk.proposals import EndTimes, Propose, TakeTime
from tests.races.desk.rows import Desk
from tests.races.desk.setting import Setting, without_times_for
from tests.races.simulation.both import Both


@dataclass(frozen=True, slots=True)
class AskAndPropose:
    """A family asks for another start, and other times are proposed at once."""

    asked: datetime
    proposed: Propose

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        moves = self.proposed.proposal.moves
        assert moves is not None
        yield from against_ending(desk, setting, moves)
        row = desk.booking(moves)
        meeting = desk.meeting(row.meeting) if row is not None else None
        assert row is not None and meeting is not None
        if setting.begun(self.asked):
            yield "past"
        if self.asked == row.starts_at:
            yield "already-done"
        there = meeting._replace(
            starts_at=self.asked, ends_at=self.asked + (meeting.ends_at - meeting.starts_at)
        )
        away = desk.is_away(meeting.instructor, there.starts_at, there.ends_at)
        if away or not setting.is_open(there):
            yield "outside-hours"
        yield from self.proposed.refusals(without_times_for(desk, moves, setting), setting)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        moves = self.proposed.proposal.moves
        assert moves is not None
        return self.proposed.done(without_times_for(desk, moves, setting), setting)


class ProposalActs(Both):
    def propose(self, student: int, teacher: int, offering: str, starts: list[datetime]) -> str:
        ilse = self.school.teachers[teacher]
        return self._act(
            self.desk.times_at(offering, student, teacher, sorted(starts)),
            lambda: proposed_times.propose_times(
                actor=ilse.user,
                student=self.school.students[student],
                offering=self.school.offerings[offering],
                instructor=ilse,
                starts=sorted(starts),
                now=self.now,
            ),
        )

    def propose_instead(self, booking: int, asked: datetime, starts: list[datetime]) -> str:
        """The family asks to move the lesson to the start `asked`, which does not suit."""
        actor, theirs = self._theirs(booking)
        row = self.desk.bookings[booking]
        meeting = self.desk.meetings[row.meeting]
        ilse = self.school.teachers[meeting.instructor]

        def real() -> None:
            request = move_requests.request_move(
                actor=actor, booking=theirs, starts_at=asked, now=self.now
            )
            proposed_times.propose_other_times(
                actor=ilse.user, request=request, starts=sorted(starts), now=self.now
            )

        times = self.desk.times_at(
            meeting.offering, row.student, meeting.instructor, sorted(starts), booking
        )
        return self._act(AskAndPropose(asked, times), real)

    def take_time(self, booking: int) -> str:
        """`booking` is or was a time of a proposal."""
        actor, time = self._theirs(booking)
        number = self.desk.bookings[booking].proposed
        assert number is not None
        return self._act(
            TakeTime(number, booking),
            lambda: taking_times.take_time(
                actor=actor, proposal=self._proposal(number), booking_id=time.pk, now=self.now
            ),
        )

    def decline_times(self, proposal: int) -> str:
        actor = self._family(self.desk.proposals[proposal].student)
        return self._act(
            EndTimes(proposal, "declined"),
            lambda: proposed_times.decline_times(
                actor=actor, proposal=self._proposal(proposal), now=self.now
            ),
        )

    def withdraw_times(self, proposal: int) -> str:
        teacher = self.school.teachers[self.desk.proposals[proposal].instructor]
        return self._act(
            EndTimes(proposal, "removed"),
            lambda: proposed_times.withdraw_times(
                actor=teacher.user, proposal=self._proposal(proposal), now=self.now
            ),
        )

    def book_by_school(self, student: int, teacher: int, offering: str, starts: datetime) -> str:
        """The instructor books a student whom they teach."""
        ilse = self.school.teachers[teacher]
        return self._act(
            BookSlot(self.desk.lesson_at(offering, student, teacher, starts), by_school=True),
            lambda: lessons.book_slot(
                actor=ilse.user,
                student=self.school.students[student],
                offering=self.school.offerings[offering],
                instructor=ilse,
                starts_at=starts,
                now=self.now,
            ),
        )

    def decline_lesson(self, booking: int) -> str:
        actor, theirs = self._theirs(booking)
        return self._act(
            DeclineLesson(booking),
            lambda: declining.decline_booking(actor=actor, booking=theirs, now=self.now),
        )

    def _proposal(self, number: int) -> ProposedTimes:
        rows = ProposedTimes.objects.select_related("student", "instructor__user")
        return rows.order_by("pk")[number]
