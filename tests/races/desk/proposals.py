"""Proposed times: an instructor holds up to three starts for a student, who takes one or none."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from tests.races.desk.lessons import Lesson, against_start
from tests.races.desk.rows import ENDED, HELD, OFFERED, Booking, Desk, Meeting, Proposal
from tests.races.desk.setting import (
    NOT_CHOSEN,
    Setting,
    open_times,
    times_ended,
    without_times_for,
)

MOST = 3
"""How many times one student may have open, all proposals together."""


@dataclass(frozen=True, slots=True)
class Propose:
    """Times for a student, instead of a lesson where the proposal `moves` one."""

    proposal: Proposal
    times: tuple[Lesson, ...]

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        student, moves = self.proposal.student, self.proposal.moves
        request = self.proposal.request
        lesson = _meeting_of(desk, moves)
        if moves is not None and lesson is None:
            yield "already-ended"
            return
        if request is not None and any(row.request == request for row in desk.proposals):
            yield "already-done"
        if len(times_open_to(desk, student)) + len(self.times) > MOST:
            yield "limit-reached"
        if not setting.consents(student):
            yield "consent-missing"
        but = None if lesson is None else lesson.id
        for one in self.times:
            yield from against_start(desk, setting, student, one.meeting, but=but, by_school=True)
        at = sorted(self._at(lesson), key=lambda meeting: meeting.starts_at)
        if any(later.starts_at < earlier.held_until for earlier, later in pairwise(at)):
            yield "taken"
        yield from setting.hasty(student, at[0].starts_at)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        first = min(at.starts_at for at in self._at(_meeting_of(desk, self.proposal.moves)))
        until = setting.times_answer_by(self.proposal.student, first)
        for one in self.times:
            desk = one.made(desk)
            booked = desk.booking(one.booking)
            assert booked is not None
            offered = booked._replace(standing=OFFERED, answer_by=until, proposed=self.proposal.id)
            desk = desk.with_booking(offered).with_meeting(one.meeting._replace(proposed=True))
        return desk.with_proposal(self.proposal._replace(answer_by=until))

    def _at(self, lesson: Meeting | None) -> list[Meeting]:
        return [*(one.meeting for one in self.times), *([] if lesson is None else [lesson])]


@dataclass(frozen=True, slots=True)
class TakeTime:
    """One of the times is booked, or the lesson moves there, and the others end."""

    proposal: int
    booking: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from _against_answer(desk, setting, self.proposal)
        proposal, time = desk.proposal(self.proposal), desk.booking(self.booking)
        if proposal is None or time is None:
            return
        if not setting.consents(time.student):
            yield "consent-missing"
        if not setting.humane(time.student, time.starts_at, time.ends_at):
            yield "minor-hours"
        lesson = _meeting_of(desk, proposal.moves)
        but = time.meeting if lesson is None else lesson.id
        if desk.clashes(time.student, time.starts_at, time.ends_at, but=but):
            yield "own-clash"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        proposal, time = desk.proposal(self.proposal), desk.booking(self.booking)
        assert proposal is not None and time is not None
        there = desk.meeting(time.meeting)
        assert there is not None
        if proposal.moves is None:
            booked = time._replace(standing=HELD, answer_by=None)
            desk = desk.with_booking(booked).with_meeting(there._replace(proposed=False))
            return times_ended(desk, proposal, "placed", setting, times_why=NOT_CHOSEN)
        desk = times_ended(desk, proposal, "placed", setting, times_why=NOT_CHOSEN)
        over = time._replace(standing=ENDED, why="moved", ended_at=setting.now)
        return _moved(desk.with_booking(over), proposal.moves, there, setting)


@dataclass(frozen=True, slots=True)
class EndTimes:
    """The family declines all times, or the instructor takes them back."""

    proposal: int
    why: str

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from _against_answer(desk, setting, self.proposal)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        proposal = desk.proposal(self.proposal)
        assert proposal is not None
        return times_ended(desk, proposal, self.why, setting)


@dataclass(frozen=True, slots=True)
class LapseTimes:
    """Nobody has answered in time. Nobody asks for it, so no clock forbids it."""

    proposal: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        proposal = desk.proposal(self.proposal)
        if proposal is None or proposal.why:
            yield "offer-ended"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        proposal = desk.proposal(self.proposal)
        assert proposal is not None
        return times_ended(desk, proposal, "lapsed", setting)


def times_open_to(desk: Desk, student: int) -> list[Booking]:
    """The times proposed to a student that can still be taken, by id."""
    return [
        time
        for proposal in desk.proposals
        if proposal.student == student
        for time in open_times(desk, proposal.id)
    ]


def _against_answer(desk: Desk, setting: Setting, pk: int) -> Iterator[str]:
    proposal = desk.proposal(pk)
    if proposal is None or proposal.why or setting.is_due(proposal):
        yield "offer-ended"


def _meeting_of(desk: Desk, booking: int | None) -> Meeting | None:
    """The meeting of a lesson that is held; None where there is none."""
    row = None if booking is None else desk.booking(booking)
    return None if row is None or row.standing != HELD else desk.meeting(row.meeting)


def _moved(desk: Desk, booking: int, there: Meeting, setting: Setting) -> Desk:
    row, lesson = desk.booking(booking), _meeting_of(desk, booking)
    assert row is not None and lesson is not None
    times = {"starts_at": there.starts_at, "ends_at": there.ends_at}
    moved = lesson._replace(held_until=there.held_until, **times)
    booked = row._replace(decline_by=None, **times)
    return without_times_for(desk.with_meeting(moved).with_booking(booked), booking, setting)
