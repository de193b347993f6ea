"""Group meetings made and changed, meetings called off and reinstated, days away."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from tests.races.desk.rows import (
    HELD,
    KINDS,
    LISTENER,
    PLAYER,
    Away,
    Booking,
    Desk,
    Meeting,
    Proposal,
)
from tests.races.desk.setting import Setting, ended, open_times, times_ended, waits_no_more
from tests.races.desk.turns import passed_on


def _against_time(
    desk: Desk, setting: Setting, meeting: Meeting, *, but: int | None = None
) -> Iterator[str]:
    if setting.begun(meeting.starts_at):
        yield "past"
    if desk.blocked(meeting.instructor, meeting.starts_at, meeting.held_until, but=but):
        yield "taken"
    away = desk.is_away(meeting.instructor, meeting.starts_at, meeting.ends_at)
    if away or not setting.is_open(meeting):
        yield "instructor-may-allow"


def _passed_on(desk: Desk, setting: Setting, pk: int) -> Desk:
    for kind in KINDS:
        desk = passed_on(desk, setting, pk, kind)
    return desk


@dataclass(frozen=True, slots=True)
class MakeMeeting:
    meeting: Meeting

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from _against_time(desk, setting, self.meeting)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        return desk.with_meeting(self.meeting)


@dataclass(frozen=True, slots=True)
class ChangeMeeting:
    """A group meeting's places, by kind, or its start."""

    meeting: int
    places: Mapping[str, int] = field(default_factory=dict)
    starts_at: datetime | None = None

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        meeting = desk.meeting(self.meeting)
        if meeting is not None and meeting.one_on_one:
            yield "wrong-kind"
        if meeting is None or meeting.off or setting.begun(meeting.starts_at):
            yield "already-ended"
            return
        if any(desk.taken(meeting.id, kind) > wanted for kind, wanted in self.places.items()):
            yield "has-bookings"
        new = self._changed(meeting)
        if new.starts_at == meeting.starts_at:
            return
        yield from _against_time(desk, setting, new, but=new.id)
        roster, times = desk.roster(new.id), (new.starts_at, new.ends_at)
        if not all(setting.humane(row.student, *times) for row in roster):
            yield "minor-hours"
        held = [row.student for row in roster if row.standing == HELD]
        if any(desk.clashes(student, *times, but=new.id) for student in held):
            yield "own-clash"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        meeting = desk.meeting(self.meeting)
        assert meeting is not None
        new = self._changed(meeting)
        desk = desk.with_meeting(new)
        for row in desk.roster(new.id) if new.starts_at != meeting.starts_at else ():
            answer_by = row.answer_by and min(row.answer_by, new.starts_at)
            times = {"starts_at": new.starts_at, "ends_at": new.ends_at}
            desk = desk.with_booking(row._replace(answer_by=answer_by, **times))
        return _passed_on(desk, setting, new.id)

    def _changed(self, old: Meeting) -> Meeting:
        later = (self.starts_at or old.starts_at) - old.starts_at
        return old._replace(
            starts_at=old.starts_at + later,
            ends_at=old.ends_at + later,
            held_until=old.held_until + later,
            places=self.places.get(PLAYER, old.places),
            listener_places=self.places.get(LISTENER, old.listener_places),
        )


@dataclass(frozen=True, slots=True)
class CallOff:
    meeting: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        meeting = desk.meeting(self.meeting)
        if meeting is None or meeting.off:
            yield "already-ended"
        elif setting.begun(meeting.starts_at):
            yield "past"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        meeting = desk.meeting(self.meeting)
        assert meeting is not None
        for row in desk.roster(meeting.id):
            desk = ended(desk, row, "called-off", setting)
        for wait in desk.waits:
            if wait.meeting == meeting.id and wait.live:
                desk = waits_no_more(desk, wait, "called-off", setting)
        return desk.with_meeting(meeting._replace(off=True, called_off=setting.now))


@dataclass(frozen=True, slots=True)
class Reinstate:
    """What was called off takes place after all, with those who still can come.

    `made_up` says that a make-up lesson has been booked for it, of which the desk holds no row.
    """

    meeting: int
    made_up: bool = False

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        meeting = desk.meeting(self.meeting)
        if meeting is None or not meeting.off:
            yield "already-done"
            return
        roster = self._roster(desk, meeting)
        if setting.begun(meeting.starts_at):
            yield "past"
        if meeting.one_on_one and not roster:
            yield "already-ended"
        if any(row.left for row in desk.weekly if row.id == meeting.weekly):
            yield "already-ended"
        if desk.blocked(meeting.instructor, meeting.starts_at, meeting.held_until, but=meeting.id):
            yield "taken"
        for row in roster if meeting.one_on_one else ():
            if desk.clashes(row.student, row.starts_at, row.ends_at, but=meeting.id):
                yield "own-clash"
            if not setting.consents(row.student):
                yield "consent-missing"
        if self.made_up:
            yield "owed-settled"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        meeting = desk.meeting(self.meeting)
        assert meeting is not None
        for row in self._roster(desk, meeting):
            clash = desk.clashes(row.student, row.starts_at, row.ends_at, but=meeting.id)
            if row.answer_by is None and not clash and setting.consents(row.student):
                desk = desk.with_booking(row._replace(standing=HELD, why="", ended_at=None))
        for wait in desk.waits:
            ended_so = (wait.meeting, wait.why, wait.ended_at)
            if ended_so == (meeting.id, "called-off", meeting.called_off):
                desk = desk.with_wait(wait._replace(offer=None, why="", ended_at=None))
        return _passed_on(desk.with_meeting(meeting._replace(off=False)), setting, meeting.id)

    def _roster(self, desk: Desk, meeting: Meeting) -> list[Booking]:
        """Who was in it when it was called off."""
        ended_so = (meeting.id, "called-off", meeting.called_off)
        return sorted(
            row for row in desk.bookings if (row.meeting, row.why, row.ended_at) == ended_so
        )


@dataclass(frozen=True, slots=True)
class GoAway:
    """Nothing new is offered. Meetings in the way are all called off, if that was asked, or else it
    is refused. Whoever has `left` is away for all time.
    """

    away: Away
    call_off: bool = False
    left: bool = False

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        if self.left and self.away in desk.away:
            yield "already-ended"
        if not self.call_off and self.in_the_way(desk, setting):
            yield "has-bookings"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        for row in self.in_the_way(desk, setting):
            desk = CallOff(row.id).done(desk, setting)
        for proposal in self._proposed_then(desk):
            desk = times_ended(desk, proposal, "removed", setting)
        return desk._replace(away=desk.away | {self.away})

    def in_the_way(self, desk: Desk, setting: Setting) -> list[Meeting]:
        """The meetings ahead that reach into that time."""
        return [
            row
            for row in desk.meetings
            if row.instructor == self.away.instructor
            and not (row.off or row.proposed)
            and not setting.begun(row.starts_at)
            and row.starts_at < self.away.until
            and self.away.since < row.ends_at
        ]

    def _proposed_then(self, desk: Desk) -> list[Proposal]:
        """Proposals of which a time that can still be taken reaches into that time."""
        return [
            proposal
            for proposal in desk.proposals
            if proposal.instructor == self.away.instructor
            and any(
                row.starts_at < self.away.until and self.away.since < row.ends_at
                for row in open_times(desk, proposal.id)
            )
        ]
