"""How a place ends in the plain model, and whose turn it is then."""

from datetime import datetime

from tests.races.simulation.desk import (
    LISTENER,
    NOTICE,
    PLAYER,
    Booking,
    No,
)
from tests.races.simulation.refusals import Refusals


def end(booking: Booking, why: str, now: datetime) -> None:
    booking.standing, booking.why, booking.ended = "ENDED", why, now


def cancelled(booking: Booking, now: datetime) -> str:
    return "cancelled-in-time" if now <= booking.starts - NOTICE else "cancelled-late"


class Turns(Refusals):
    """Places that end, offers, and the lines of those who wait; `now` is the instant of each."""

    def fall_due(self, now: datetime) -> None:
        """Offers not answered in time lapse, the earliest meeting's first; then what stands free
        goes to whoever may take it by now.
        """
        late = [
            b
            for b in self.bookings
            if b.standing == "OFFERED" and b.answer_by is not None and b.answer_by <= now
        ]
        for offer in sorted(late, key=lambda b: (b.starts, b.number)):
            self._end_offer(offer, "lapsed", now)
        for meeting in self.meetings:
            for kind in (PLAYER, LISTENER):
                if not self.is_for_the_taking(meeting.number, kind, now):
                    self.offer(meeting.number, kind, now)

    def offer(self, meeting: int, kind: str, now: datetime) -> None:
        it = self.meetings[meeting]
        while not (it.off or it.starts <= now or self.full(meeting, kind)):
            found = self.next_in_line(meeting, kind, now)
            if found == "first yes":
                self.announced.add((meeting, kind))
            if isinstance(found, str):
                return
            wait, until = found
            wait.offer = self.add_booking(meeting, wait.student, kind, until).number

    def _stop_listening(self, student: int, meeting: int, now: datetime) -> None:
        self._leave_line(student, meeting, LISTENER, "placed", now)
        for listening in [b for b in self.live(meeting, LISTENER) if b.student == student]:
            end(listening, "moved", now)
            self.offer(meeting, LISTENER, now)

    def _leave_line(self, student: int, meeting: int, kind: str, why: str, now: datetime) -> None:
        wait = self.place_in_line(meeting, student, kind)
        if wait is not None:
            wait.ended, wait.why = now, why

    def _open_offer(self, booking: int, now: datetime) -> Booking:
        hers = self.bookings[booking]
        if (
            hers.standing != "OFFERED"
            or hers.answer_by is None
            or now >= hers.answer_by
            or now >= hers.starts
        ):
            raise No("offer-ended")
        return hers

    def _end_offer(self, offer: Booking, why: str, now: datetime) -> None:
        end(offer, why, now)
        for wait in self.waits:
            if wait.offer == offer.number and not wait.why:
                wait.ended, wait.why = now, why
        self.offer(offer.meeting, offer.kind, now)
