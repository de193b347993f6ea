"""Two lessons of one family that are next to each other move together."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from tests.races.desk.lessons import MoveSlot
from tests.races.desk.rows import Booking, Desk, Meeting
from tests.races.desk.setting import Setting

NEXT_TO = timedelta(minutes=15)
"""At most so much lies between two lessons that are one after the other."""


@dataclass(frozen=True, slots=True)
class MovePair:
    """`booking` moves to this start and `sibling` by the same step, or neither does.

    `instructor` is None where they stay the same.
    """

    booking: int
    sibling: int
    instructor: int | None
    starts_at: datetime

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        lesson, beside = desk.booking(self.booking), desk.booking(self.sibling)
        if lesson is None or beside is None:
            yield "already-ended"
            return
        if not (_are_beside(desk, lesson, beside) and setting.one_family(lesson, beside)):
            yield "conflict"
        for moved, other in self._in_turn(lesson, beside):
            # The time of the other is free: it leaves in the same act.
            step = self._move(desk, lesson, moved)
            yield from step.refusals(_without(desk, other.meeting), setting)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        lesson, beside = desk.booking(self.booking), desk.booking(self.sibling)
        assert lesson is not None and beside is not None
        for moved in (lesson, beside):
            desk = self._move(desk, lesson, moved).done(desk, setting)
        return desk

    def _in_turn(self, lesson: Booking, beside: Booking) -> list[tuple[Booking, Booking]]:
        """Each with the other, whichever goes ahead in the direction of the move first."""
        is_later = self.starts_at > lesson.starts_at
        first, second = sorted((lesson, beside), key=lambda row: row.starts_at, reverse=is_later)
        return [(first, second), (second, first)]

    def _move(self, desk: Desk, lesson: Booking, row: Booking) -> MoveSlot:
        """One of the two by the step of both; it stays as long as it is."""
        meeting, step = desk.meeting(row.meeting), self.starts_at - lesson.starts_at
        held_until = row.ends_at if meeting is None else meeting.held_until
        return MoveSlot(
            row.id, self.instructor, row.starts_at + step, row.ends_at + step, held_until + step
        )


def _are_beside(desk: Desk, one: Booking, other: Booking) -> bool:
    taught = [desk.meeting(row.meeting) for row in (one, other)]
    instructors = {meeting.instructor for meeting in taught if meeting is not None}
    gap = max(one.starts_at, other.starts_at) - min(one.ends_at, other.ends_at)
    is_another = one.student != other.student
    return is_another and len(instructors) == 1 and timedelta() <= gap <= NEXT_TO


def _without(desk: Desk, pk: int) -> Desk:
    """The desk as if that meeting did not take place."""
    meeting: Meeting | None = desk.meeting(pk)
    return desk if meeting is None else desk.with_meeting(meeting._replace(off=True))
