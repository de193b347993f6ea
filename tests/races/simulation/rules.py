"""What each act at the desk does to the plain model, or the code with which it is refused; again
without the product.
"""

from datetime import datetime

from tests.races.simulation.desk import (
    ALLOWANCE,
    GROUPS,
    LISTENER,
    PLAYER,
    No,
    Wait,
    Weekly,
)
from tests.races.simulation.turns import Turns, cancelled, end


class Desk(Turns):
    """The acts; `now` is the instant of each."""

    # ---- one-on-ones
    def book_slot(
        self, student: int, teacher: int, offering: str, starts: datetime, now: datetime
    ) -> None:
        self._consent(student, now)
        self._start(student, teacher, offering, starts, now)
        ahead = [b for b in self.bookings if b.student == student and not b.why and b.starts > now]
        if (
            offering == "consultation"
            and sum(self.meetings[b.meeting].offering == offering for b in ahead) >= ALLOWANCE
        ):
            raise No("allowance-used")
        meeting = self.add_meeting(offering, teacher, starts, {PLAYER: 1, LISTENER: 0})
        self.add_booking(meeting.number, student, PLAYER)

    def move_slot(self, booking: int, teacher: int, starts: datetime, now: datetime) -> None:
        hers = self.bookings[booking]
        it = self._one_on_one(hers)
        if hers.standing != "HELD":
            raise No("already-ended")
        self._ahead(hers, now)
        if cancelled(hers, now) == "cancelled-late":
            raise No("notice-passed")
        self._start(hers.student, teacher, it.offering, starts, now, moving=it.number)
        moved = self.add_meeting(it.offering, teacher, starts, it.places, it.weekly)
        self.meetings.pop()
        moved.number, self.meetings[it.number] = it.number, moved
        hers.starts, hers.ends = moved.starts, moved.ends

    def cancel_slot(self, booking: int, now: datetime) -> None:
        hers = self.bookings[booking]
        it = self._one_on_one(hers)
        self._ahead(hers, now)
        it.off = True
        end(hers, cancelled(hers, now), now)

    def take_weekly(self, student: int, teacher: int, starts: list[datetime]) -> None:
        self.weekly.append(Weekly(student, teacher))
        for at in starts:
            meeting = self.add_meeting(
                "lesson", teacher, at, {PLAYER: 1, LISTENER: 0}, len(self.weekly) - 1
            )
            self.add_booking(meeting.number, student, PLAYER)

    def leave_weekly(self, weekly: int, now: datetime) -> None:
        place = self.weekly[weekly]
        if place.left:
            raise No("already-ended")
        place.left = True
        for hers in self.bookings:
            it = self.meetings[hers.meeting]
            if (
                it.weekly == weekly
                and hers.standing == "HELD"
                and hers.starts > now
                and cancelled(hers, now) == "cancelled-in-time"
            ):
                it.off = True
                end(hers, "left", now)

    # ---- places in group meetings
    def book_place(
        self, student: int, meeting: int, kind: str, now: datetime, *, ahead: bool = False
    ) -> None:
        self._joins(student, meeting, kind, now, clash=True)
        if self.full(meeting, kind) or not (ahead or self.is_for_the_taking(meeting, kind, now)):
            raise No("no-place")
        if kind == PLAYER:
            self._stop_listening(student, meeting, now)
        self.add_booking(meeting, student, kind)
        self._leave_line(student, meeting, kind, "placed", now)

    def leave_place(self, booking: int, now: datetime, *, by_office: bool = False) -> None:
        hers = self.bookings[booking]
        if self.meetings[hers.meeting].offering not in GROUPS:
            raise No("wrong-kind")
        if hers.standing == "OFFERED":
            self._end_offer(hers, "removed" if by_office else "declined", now)
            return
        self._ahead(hers, now)
        end(hers, "removed" if by_office else cancelled(hers, now), now)
        self.offer(hers.meeting, hers.kind, now)

    def change_place(self, booking: int, meeting: int, now: datetime) -> None:
        hers, before = self.bookings[booking], self.kept()
        if hers.standing != "HELD":
            raise No("already-ended")
        if cancelled(hers, now) == "cancelled-late":
            raise No("notice-passed")
        offering = self.meetings[meeting].offering
        if offering not in GROUPS or offering != self.meetings[hers.meeting].offering:
            raise No("wrong-kind")
        if meeting == hers.meeting:
            raise No("already-booked")
        try:
            self.leave_place(booking, now)
            self.book_place(hers.student, meeting, hers.kind, now)
        except No:
            self.put_back(before)
            raise

    def join_line(self, student: int, meeting: int, kind: str, now: datetime) -> None:
        self._joins(student, meeting, kind, now, clash=False)
        if not self.full(meeting, kind) and self.is_for_the_taking(meeting, kind, now):
            raise No("places-free")
        if self.place_in_line(meeting, student, kind) is not None:
            raise No("already-waiting")
        self.waits.append(Wait(len(self.waits), meeting, student, kind, now))
        self.offer(meeting, kind, now)

    def leave_line(self, student: int, meeting: int, kind: str, now: datetime) -> None:
        wait = self.place_in_line(meeting, student, kind)
        if wait is None:
            raise No("not-waiting")
        if wait.offer is not None:
            self._end_offer(self.bookings[wait.offer], "declined", now)
        else:
            wait.ended, wait.why = now, "left"

    def accept(self, booking: int, now: datetime) -> None:
        hers = self._open_offer(booking, now)
        self._consent(hers.student, now)
        if not self.humane(hers.student, hers.starts, hers.ends):
            raise No("minor-hours")
        if self.clashes(hers.student, hers.starts, hers.ends, but=hers.meeting):
            raise No("own-clash")
        if hers.kind == PLAYER:
            self._stop_listening(hers.student, hers.meeting, now)
        hers.standing, hers.answer_by = "HELD", None
        self._leave_line(hers.student, hers.meeting, hers.kind, "placed", now)

    def decline(self, booking: int, now: datetime) -> None:
        self._end_offer(self._open_offer(booking, now), "declined", now)

    # ---- meetings
    def make_meeting(
        self, offering: str, teacher: int, starts: datetime, places: dict[str, int], now: datetime
    ) -> None:
        self._time_of_group(offering, teacher, starts, now)
        self.add_meeting(offering, teacher, starts, places)

    def change_meeting(
        self,
        meeting: int,
        now: datetime,
        *,
        starts: datetime | None = None,
        places: dict[str, int] | None = None,
    ) -> None:
        it, live = self._changeable(meeting, now), self.live(meeting)
        if any(len(self.live(meeting, kind)) > wanted for kind, wanted in (places or {}).items()):
            raise No("has-bookings")
        if starts is not None and starts != it.starts:
            ends, held_until = self._time_of_group(
                it.offering, it.teacher, starts, now, moving=meeting
            )
            if not all(self.humane(b.student, starts, ends) for b in live):
                raise No("minor-hours")
            if any(
                b.standing == "HELD" and self.clashes(b.student, starts, ends, but=meeting)
                for b in live
            ):
                raise No("own-clash")
            it.starts, it.ends, it.held_until = starts, ends, held_until
            for b in live:
                b.starts, b.ends = starts, ends
                b.answer_by = b.answer_by and min(b.answer_by, starts)
        it.places = {**it.places, **(places or {})}
        for kind in (PLAYER, LISTENER):
            self.offer(meeting, kind, now)

    def call_off(self, meeting: int, now: datetime) -> None:
        it = self.meetings[meeting]
        if it.off:
            raise No("already-ended")
        if it.starts <= now:
            raise No("past")
        for booking in self.live(meeting):
            end(booking, "called-off", now)
        for wait in self.waits:
            if wait.meeting == meeting and not wait.why:
                wait.ended, wait.why = now, "called-off"
        it.off, it.called_off = True, now

    def reinstate(self, meeting: int, now: datetime) -> None:
        it = self.meetings[meeting]
        ended = [
            b
            for b in self.bookings
            if (b.meeting, b.why, b.ended) == (meeting, "called-off", it.called_off)
        ]
        alone = it.offering not in GROUPS
        for broken, code in (
            (not it.off, "already-done"),
            (it.starts <= now, "past"),
            (alone and not ended, "already-ended"),
            (it.weekly is not None and self.weekly[it.weekly].left, "already-ended"),
            (self.taught(it.teacher, it.starts, it.held_until, but=meeting), "taken"),
        ):
            if broken:
                raise No(code)
        for hers in [b for b in ended if b.answer_by is None]:
            clash = self.clashes(hers.student, hers.starts, hers.ends, but=meeting)
            if not clash and self.consents(hers.student, now):
                hers.standing, hers.ended, hers.why = "HELD", None, ""
            elif alone:
                raise No("own-clash" if clash else "consent-missing")
        for wait in self.waits:
            if (wait.meeting, wait.why, wait.ended) == (meeting, "called-off", it.called_off):
                wait.offer, wait.ended, wait.why = None, None, ""
        it.off = False
        for kind in (PLAYER, LISTENER):
            self.offer(meeting, kind, now)

    # ---- what the acts are made of
