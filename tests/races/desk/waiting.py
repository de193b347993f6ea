"""The queue of a meeting, and the answers to its offers."""

from collections.abc import Iterator
from dataclasses import dataclass

from tests.races.desk.places import against_joining
from tests.races.desk.rows import HELD, OFFERED, PLAYER, Booking, Desk, Wait
from tests.races.desk.setting import Setting, waits_no_more
from tests.races.desk.turns import free_for_all, given_back, passed_on, stopped_listening


@dataclass(frozen=True, slots=True)
class JoinLine:
    wait: Wait

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        who, pk, kind = self.wait.student, self.wait.meeting, self.wait.kind
        yield from against_joining(desk, setting, who, pk, kind, clash=False)
        meeting = desk.meeting(pk)
        if meeting is not None and not meeting.off and free_for_all(desk, setting, meeting, kind):
            yield "places-free"
        if desk.waits_for(pk, who, kind) is not None:
            yield "already-waiting"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        joined = desk.with_wait(self.wait)
        return passed_on(joined, setting, self.wait.meeting, self.wait.kind)


@dataclass(frozen=True, slots=True)
class LeaveLine:
    student: int
    meeting: int
    kind: str

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        if desk.waits_for(self.meeting, self.student, self.kind) is None:
            yield "not-waiting"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        wait = desk.waits_for(self.meeting, self.student, self.kind)
        offer = desk.booking(wait.offer) if wait is not None and wait.offer is not None else None
        if offer is not None:
            return given_back(desk, setting, offer, "declined")
        return waits_no_more(desk, wait, "left", setting)


def _open_offer(desk: Desk, setting: Setting, pk: int) -> Booking | None:
    row = desk.booking(pk)
    is_open = row is not None and row.standing == OFFERED and not setting.is_over(row)
    return row if is_open else None


@dataclass(frozen=True, slots=True)
class Accept:
    booking: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        offer = _open_offer(desk, setting, self.booking)
        if offer is None:
            yield "offer-ended"
            return
        if not setting.consents(offer.student):
            yield "consent-missing"
        if not setting.humane(offer.student, offer.starts_at, offer.ends_at):
            yield "minor-hours"
        if desk.clashes(offer.student, offer.starts_at, offer.ends_at, but=offer.meeting):
            yield "own-clash"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        offer = desk.booking(self.booking)
        assert offer is not None
        if offer.kind == PLAYER:
            desk = stopped_listening(desk, setting, offer.meeting, offer.student)
        waited = desk.waits_for(offer.meeting, offer.student, offer.kind)
        desk = waits_no_more(desk, waited, "placed", setting)
        return desk.with_booking(offer._replace(standing=HELD, answer_by=None))


@dataclass(frozen=True, slots=True)
class Decline:
    booking: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        if _open_offer(desk, setting, self.booking) is None:
            yield "offer-ended"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        offer = desk.booking(self.booking)
        assert offer is not None
        return given_back(desk, setting, offer, "declined")


@dataclass(frozen=True, slots=True)
class Lapse:
    """An offer has not been answered in time. Nobody asks for it, so no clock forbids it."""

    booking: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        row = desk.booking(self.booking)
        if row is None or row.standing != OFFERED:
            yield "offer-ended"

    def done(self, desk: Desk, setting: Setting) -> Desk:
        offer = desk.booking(self.booking)
        assert offer is not None
        return given_back(desk, setting, offer, "lapsed")
