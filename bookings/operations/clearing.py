"""A stretch of hours that an instructor cannot teach: each meeting in it is called off, covered or
moved, in one step.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from accounts.models import Instructor, User
from bookings import notices, outbox
from bookings.domain.clearing import Decision, Remedy, check_decision
from bookings.domain.errors import Refused
from bookings.domain.timeline import Period, rfc3339
from bookings.domain.vocabulary import Ended
from bookings.models import Booking, Meeting, OutboxMessage, ProposedTimes
from bookings.operations.audit import record
from bookings.operations.calling_off import end_meeting, live_bookings, once_invited
from bookings.operations.covering import hand_lesson
from bookings.operations.locks import hold_teachers, lock_meetings, lock_students
from bookings.operations.moving import move_lesson
from bookings.operations.planning.cover_judging import conflicts_of
from bookings.operations.planning.work import refuse_conflicts
from bookings.operations.proposed_state import end_proposal
from bookings.queries.clearing import next_humane_start
from bookings.queries.days_away import meetings_in_the_way, seen_of, students_in
from bookings.queries.offerings import teaching_now
from bookings.queries.proposed_times import open_proposals_in

STALE = (
    "The bookings in these hours have changed since you read them. Read them again, then decide."
)


@dataclass(frozen=True, slots=True)
class Done:
    """What became of the `meetings`, by id, which `proposals` ended, and the emails about it.

    `decisions` are those carried out, by start: each move has its start, and a lesson for which
    there is none is left to be proposed.
    """

    decisions: Sequence[Decision]
    meetings: Mapping[int, Meeting]
    proposals: Sequence[ProposedTimes]
    messages: Sequence[OutboxMessage]

    @property
    def called_off(self) -> list[Meeting]:
        return self.those(Remedy.CALL_OFF, Remedy.PROPOSE)

    def those(self, *remedies: Remedy) -> list[Meeting]:
        """The meetings of which this became."""
        return [self.meetings[one.meeting_id] for one in self.decisions if one.remedy in remedies]


def lock_for_clearing(
    instructor: Instructor, stretch: Period, decisions: Sequence[Decision], *, now: datetime
) -> None:
    """Locks the instructor, all who cover, and students who teach. Call this first.

    Refused("invalid") for a substitute who does not teach here.
    """
    takers = {one.instructor_id for one in decisions if one.instructor_id is not None}
    if teaching_now().filter(pk__in=takers).count() < len(takers):
        raise Refused("invalid", "Choose a substitute who teaches here.")
    meetings = meetings_in_the_way(
        instructor, since=stretch.starts_at, until=stretch.ends_at, now=now
    )
    hold_teachers({instructor.pk, *takers}, students_in(meetings))


def check_all_decided(meetings: Sequence[Meeting], decisions: Sequence[Decision]) -> None:
    """Refused("stale") where the decisions are not one for each of these meetings."""
    if sorted(one.meeting_id for one in decisions) != sorted(one.pk for one in meetings):
        raise Refused("stale", STALE)


def settle(
    *,
    actor: User,
    instructor: Instructor,
    since: datetime,
    until: datetime | None,
    meetings: Sequence[Meeting],
    decisions: Sequence[Decision],
    why: str,
    seen: str | None,
    now: datetime,
) -> Done:
    """Carries out the decisions for these meetings, which are all of a locked instructor's that
    reach into [since, until). Times proposed there are taken back.
    """
    locked = lock_meetings([meeting.pk for meeting in meetings])
    if seen is not None and seen_of(locked.values()) != seen:
        raise Refused("stale", STALE)
    lock_students([student.pk for student in students_in(list(locked.values()))])
    ordered = sorted(decisions, key=lambda one: locked[one.meeting_id].starts_at)
    for one in ordered:
        is_one_on_one = locked[one.meeting_id].offering.is_one_on_one
        check_decision(one, since, until, is_one_on_one=is_one_on_one)
    work = _Work(actor, instructor, until or now, locked, why, now)
    done = work.carry_out(ordered)
    proposals = list(open_proposals_in(instructor, since=since, until=until))
    for proposal in proposals:
        end_proposal(proposal, why=Ended.REMOVED, now=now)
        record(actor=actor, verb=Ended.REMOVED.value, thing=proposal, fields=["ended_at"], now=now)
    cleared = notices.Cleared(instructor, work.called_off, work.covered, work.moved, proposals)
    messages = notices.hours_cleared(cleared, now=now)
    outbox.enqueue(messages, now=now, shown_to=once_invited(list(locked.values())))
    if proposals:
        outbox.bump_feeds([instructor.user_id], now=now)
    return Done(done, locked, proposals, messages)


class _Work:
    """The decisions of one act as they are carried out, under every lock."""

    def __init__(
        self,
        actor: User,
        instructor: Instructor,
        moves_from: datetime,
        meetings: Mapping[int, Meeting],
        why: str,
        now: datetime,
    ) -> None:
        self._actor, self._instructor, self._moves_from = actor, instructor, moves_from
        self._meetings, self._why, self._now = meetings, why, now
        self.called_off: list[notices.CalledOff] = []
        self.covered: list[notices.Covered] = []
        self.moved: list[notices.MovedLesson] = []

    def carry_out(self, decisions: Sequence[Decision]) -> list[Decision]:
        """Calls off first, so that the time is free for what moves. Returns what was done."""
        done: dict[int, Decision] = {one.meeting_id: one for one in decisions}
        for one in decisions:
            if one.remedy in (Remedy.CALL_OFF, Remedy.PROPOSE):
                self._call_off(one)
        self._cover([one for one in decisions if one.remedy == Remedy.COVER])
        for one in decisions:
            if one.remedy == Remedy.MOVE:
                done[one.meeting_id] = self._move(one)
        return list(done.values())

    def _call_off(self, decision: Decision) -> None:
        meeting = self._meetings[decision.meeting_id]
        ended = end_meeting(
            meeting, live_bookings(meeting), actor=self._actor, why=self._why, now=self._now
        )
        will_propose = decision.remedy == Remedy.PROPOSE
        self.called_off.append(replace(ended, will_propose=will_propose))

    def _cover(self, decisions: Sequence[Decision]) -> None:
        lessons = {one.meeting_id: self._lesson(one) for one in decisions}
        rows = [
            {
                "meeting": one.meeting_id,
                "student": lessons[one.meeting_id].student_id,
                "starts_at": rfc3339(lessons[one.meeting_id].starts_at),
                "from": self._instructor.pk,
                "to": one.instructor_id,
            }
            for one in decisions
        ]
        if not rows:
            return
        conflicts, given = conflicts_of(rows, lessons, now=self._now)
        refuse_conflicts(conflicts)
        self.covered += [hand_lesson(one, actor=self._actor, now=self._now) for one in given]

    def _move(self, decision: Decision) -> Decision:
        lesson = self._lesson(decision)
        was, now = lesson.starts_at, self._now
        starts_at = decision.starts_at or next_humane_start(lesson, since=self._moves_from, now=now)
        if starts_at is None:
            left = Decision(decision.meeting_id, Remedy.PROPOSE)
            self._call_off(left)
            return left
        move_lesson(
            lesson,
            starts_at,
            self._instructor,
            taught_by=self._instructor,
            actor=self._actor,
            now=now,
        )
        self.moved.append(notices.MovedLesson(lesson, was))
        return Decision(decision.meeting_id, Remedy.MOVE, starts_at=starts_at)

    def _lesson(self, decision: Decision) -> Booking:
        """The one booking of a one-on-one, with its meeting as locked."""
        (lesson,) = live_bookings(self._meetings[decision.meeting_id])
        lesson.meeting = self._meetings[decision.meeting_id]
        return lesson
