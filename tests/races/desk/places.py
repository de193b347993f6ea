"""Places in group meetings: taken, given back, changed for another meeting's."""

from collections.abc import Iterator
from dataclasses import dataclass

from tests.races.desk.rows import HELD, OFFERED, PLAYER, Booking, Desk
from tests.races.desk.setting import Setting, waits_no_more
from tests.races.desk.turns import free_for_all, given_back, stopped_listening


def against_joining(
    desk: Desk,
    setting: Setting,
    student: int,
    pk: int,
    kind: str,
    *,
    any_level: bool = False,
    clash: bool = True,
) -> Iterator[str]:
    """What forbids a place of that kind, or without `clash` to wait for one; whether one is free is
    not asked.
    """
    meeting = desk.meeting(pk)
    if meeting is not None and meeting.one_on_one:
        yield "wrong-kind"
        return
    if meeting is None or meeting.off:
        yield "already-ended"
        return
    if setting.begun(meeting.starts_at):
        yield "past"
    if not setting.consents(student):
        yield "consent-missing"
    if not setting.humane(student, meeting.starts_at, meeting.ends_at):
        yield "minor-hours"
    if kind == PLAYER and not (any_level or setting.at_level(student, meeting)):
        yield "other-level"
    if desk.booked(pk, student, kind):
        yield "already-booked"
    if not meeting.seats(kind):
        yield "no-place"
    if clash and desk.clashes(student, meeting.starts_at, meeting.ends_at, but=pk):
        yield "own-clash"


def against_ending(desk: Desk, setting: Setting, pk: int) -> Iterator[str]:
    """What forbids to cancel a booking."""
    row = desk.booking(pk)
    if row is None or not row.live:
        yield "already-ended"
    elif setting.begun(row.starts_at):
        yield "past"


@dataclass(frozen=True, slots=True)
class BookPlace:
    """`booking` is its id, the next one where it is None. An admin places students `ahead` of those
    who wait, and of any level.
    """

    student: int
    meeting: int
    kind: str
    booking: int | None = None
    ahead: bool = False
    any_level: bool = False

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from against_joining(
            desk, setting, self.student, self.meeting, self.kind, any_level=self.any_level
        )
        meeting = desk.meeting(self.meeting)
        if meeting is None or meeting.off:
            return
        for_all = free_for_all(desk, setting, meeting, self.kind)
        if not for_all and (not self.ahead or desk.full(meeting, self.kind)):
            yield "no-place"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        meeting = desk.meeting(self.meeting)
        assert meeting is not None
        if self.kind == PLAYER:
            desk = stopped_listening(desk, setting, meeting.id, self.student)
        pk = len(desk.bookings) if self.booking is None else self.booking
        times = meeting.starts_at, meeting.ends_at
        booked = Booking(pk, meeting.id, self.student, self.kind, HELD, *times)
        waited = desk.waits_for(meeting.id, self.student, self.kind)
        return waits_no_more(desk.with_booking(booked), waited, "placed", setting)


@dataclass(frozen=True, slots=True)
class LeavePlace:
    """A family or an admin, who needs no offer to have been answered, gives a place back."""

    booking: int
    by_office: bool = False

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        row = desk.booking(self.booking)
        meeting = desk.meeting(row.meeting) if row is not None else None
        if meeting is not None and meeting.one_on_one:
            yield "wrong-kind"
        if row is None or row.standing != OFFERED:
            yield from against_ending(desk, setting, self.booking)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        row = desk.booking(self.booking)
        assert row is not None
        why = "declined" if row.standing == OFFERED else setting.why_cancelled(row)
        return given_back(desk, setting, row, "removed" if self.by_office else why)


@dataclass(frozen=True, slots=True)
class ChangePlace:
    """One place is left and another taken, both or neither."""

    booking: int
    meeting: int
    new_booking: int | None = None

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        row, target = desk.booking(self.booking), desk.meeting(self.meeting)
        if row is None or row.standing != HELD:
            yield "already-ended"
            return
        if setting.is_late(row):
            yield "notice-passed"
        own = desk.meeting(row.meeting)
        alike = own is None or target is None or target.offering == own.offering
        if not alike or (target is not None and target.one_on_one):
            yield "wrong-kind"
        if self.meeting == row.meeting:
            yield "already-booked"
        left, taken = self._halves(row)
        yield from left.refusals(desk, setting)
        yield from taken.refusals(left.done(desk, setting), setting)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        row = desk.booking(self.booking)
        assert row is not None
        left, taken = self._halves(row)
        return taken.done(left.done(desk, setting), setting)

    def _halves(self, row: Booking) -> tuple[LeavePlace, BookPlace]:
        taken = BookPlace(row.student, self.meeting, row.kind, self.new_booking)
        return LeavePlace(self.booking), taken
