"""One-on-ones and weekly places."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from tests.races.desk.places import against_ending
from tests.races.desk.rows import HELD, PLAYER, Booking, Desk, Meeting, Weekly
from tests.races.desk.setting import Setting, ended, without_times_for


def against_start(
    desk: Desk,
    setting: Setting,
    student: int,
    meeting: Meeting,
    *,
    but: int | None = None,
    by_school: bool = False,
) -> Iterator[str]:
    """What forbids this one-on-one; `but` is the meeting that moves there."""
    teacher, starts_at, ends_at = meeting.instructor, meeting.starts_at, meeting.ends_at
    if desk.has_left(teacher):
        yield "not-found"
    if desk.has_left(teacher) or not setting.at_level(student, meeting):
        yield "not-taught"
    yield from setting.untimely(starts_at, by_school=by_school)
    if desk.is_away(teacher, starts_at, ends_at) or not setting.is_open(meeting):
        yield "outside-hours"
    if not setting.on_grid(meeting):
        yield "off-grid"
    if desk.blocked(teacher, starts_at, meeting.held_until, but=but):
        yield "taken"
    if desk.clashes(student, starts_at, ends_at, but=but):
        yield "own-clash"
    if not setting.humane(student, starts_at, ends_at):
        yield "minor-hours"


@dataclass(frozen=True, slots=True)
class Lesson:
    """A one-on-one to be made, and the id of its booking."""

    meeting: Meeting
    student: int
    booking: int

    def made(self, desk: Desk) -> Desk:
        at = self.meeting
        times = at.starts_at, at.ends_at
        booked = Booking(self.booking, at.id, self.student, PLAYER, HELD, *times)
        return desk.with_meeting(at).with_booking(booked)


@dataclass(frozen=True, slots=True)
class BookSlot:
    """What the school books may be declined for a while, and fills no allowance."""

    lesson: Lesson
    by_school: bool = False

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        student, meeting = self.lesson.student, self.lesson.meeting
        if not setting.consents(student):
            yield "consent-missing"
        yield from against_start(desk, setting, student, meeting, by_school=self.by_school)
        if not self.by_school and setting.allowance_used(desk, student, meeting.offering):
            yield "allowance-used"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        desk = self.lesson.made(desk)
        booked = desk.booking(self.lesson.booking)
        assert booked is not None
        until = setting.decline_by(booked.starts_at) if self.by_school else None
        return desk.with_booking(booked._replace(decline_by=until))


@dataclass(frozen=True, slots=True)
class MoveSlot:
    """`instructor` is None where they stay the same."""

    booking: int
    instructor: int | None
    starts_at: datetime
    ends_at: datetime
    held_until: datetime

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        row = desk.booking(self.booking)
        meeting = desk.meeting(row.meeting) if row is not None else None
        if row is None or meeting is None:
            yield "already-ended"
            return
        if not meeting.one_on_one:
            yield "wrong-kind"
        if row.standing != HELD:
            yield "already-ended"
        if setting.begun(row.starts_at):
            yield "past"
        if setting.is_late(row):
            yield "notice-passed"
        yield from against_start(desk, setting, row.student, self._moved(meeting), but=meeting.id)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        row = desk.booking(self.booking)
        assert row is not None
        meeting = desk.meeting(row.meeting)
        assert meeting is not None
        booked = row._replace(starts_at=self.starts_at, ends_at=self.ends_at, decline_by=None)
        desk = desk.with_meeting(self._moved(meeting)).with_booking(booked)
        return without_times_for(desk, row.id, setting)

    def _moved(self, meeting: Meeting) -> Meeting:
        return meeting._replace(
            instructor=meeting.instructor if self.instructor is None else self.instructor,
            starts_at=self.starts_at,
            ends_at=self.ends_at,
            held_until=self.held_until,
        )


@dataclass(frozen=True, slots=True)
class CancelSlot:
    booking: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        row = desk.booking(self.booking)
        meeting = desk.meeting(row.meeting) if row is not None else None
        if meeting is not None and not meeting.one_on_one:
            yield "wrong-kind"
        yield from against_ending(desk, setting, self.booking)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        row = desk.booking(self.booking)
        assert row is not None
        return cancelled(desk, setting, row, setting.why_cancelled(row))


@dataclass(frozen=True, slots=True)
class DeclineLesson:
    """A family declines, free of charge, what the school has booked."""

    booking: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from against_ending(desk, setting, self.booking)
        row = desk.booking(self.booking)
        if row is None or not setting.may_decline(row):
            yield "notice-passed"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        row = desk.booking(self.booking)
        assert row is not None
        return cancelled(desk, setting, row, "declined")


def cancelled(desk: Desk, setting: Setting, row: Booking, why: str) -> Desk:
    """A one-on-one does not take place."""
    meeting = desk.meeting(row.meeting)
    assert meeting is not None
    return ended(desk.with_meeting(meeting._replace(off=True)), row, why, setting)


@dataclass(frozen=True, slots=True)
class TakeWeekly:
    """Every lesson, or nothing. `place` is None where the lessons alone are kept."""

    student: int
    lessons: tuple[Lesson, ...]
    place: Weekly | None = None

    def unavailable(self, desk: Desk) -> list[Lesson]:
        """The lessons that cannot be had."""
        return [
            one
            for one in self.lessons
            if (at := one.meeting)
            and (
                desk.blocked(at.instructor, at.starts_at, at.held_until)
                or desk.clashes(self.student, at.starts_at, at.ends_at)
                or desk.is_away(at.instructor, at.starts_at, at.ends_at)
            )
        ]

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        if not setting.consents(self.student):
            yield "consent-missing"
        if not self.lessons or self.unavailable(desk):
            yield "term-dates"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        for one in self.lessons:
            desk = one.made(desk)
        return desk if self.place is None else desk._replace(weekly=desk.weekly | {self.place})


@dataclass(frozen=True, slots=True)
class LeaveWeekly:
    """Lessons that can no longer be cancelled in time stay."""

    place: Weekly

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        if self.place.left:
            yield "already-ended"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        left = self.place._replace(left=True)
        desk = desk._replace(weekly=desk.weekly - {self.place} | {left})
        its = {row.id for row in desk.meetings if row.weekly == left.id}
        for row in desk.bookings:
            is_ahead = row.standing == HELD and not setting.begun(row.starts_at)
            if row.meeting in its and is_ahead and not setting.is_late(row):
                desk = cancelled(desk, setting, row, "left")
        return desk
