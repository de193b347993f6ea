"""The model's refusals: each rule in the order in which the desk speaks it."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from tests.races.simulation.desk import (
    CLOSES,
    GROUPS,
    HORIZON,
    LEAD,
    LENGTHS,
    OPENS,
    PLAYER,
    STEP,
    Booking,
    Meeting,
    No,
    Rows,
    within,
)  # fmt: skip


class Refusals(Rows):
    """Raises No, or lets the act through."""

    def _consent(self, student: int, now: datetime) -> None:
        if not self.consents(student, now):
            raise No("consent-missing")

    def withdraw_consent(self, student: int, now: datetime) -> None:
        """Refused while a minor has anything ahead: nothing lives on without a consent."""
        bookings = [b for b in self.bookings if b.student == student and not b.why]
        waits = [w for w in self.waits if w.student == student and not w.why]
        is_ahead = (
            any(b.starts > now for b in bookings)
            or any(self.meetings[w.meeting].starts > now for w in waits)
            or any(w.student == student and not w.left for w in self.weekly)
        )
        if is_ahead and self.is_minor(student, now):
            raise No("has-bookings")
        self.students[student].consent = False

    def _one_on_one(self, booking: Booking) -> Meeting:
        it = self.meetings[booking.meeting]
        if it.offering in GROUPS:
            raise No("wrong-kind")
        return it

    def _ahead(self, booking: Booking, now: datetime) -> None:
        if booking.why:
            raise No("already-ended")
        if booking.starts <= now:
            raise No("past")

    def _start(
        self,
        student: int,
        teacher: int,
        offering: str,
        starts: datetime,
        now: datetime,
        moving: int | None = None,
    ) -> None:
        """A one-on-one's start, in the order in which the rules speak."""
        minutes, changeover = LENGTHS[offering]
        ends = starts + timedelta(minutes=minutes)
        wall, her = starts.astimezone(ZoneInfo(self.teachers[teacher].zone)), self.teachers[teacher]
        away = any(first <= wall.date() <= last for first, last in her.away)
        held_until = ends + timedelta(minutes=changeover)
        for broken, code in (
            (starts < now, "past"),
            (starts < now + LEAD, "too-soon"),
            (starts > now + HORIZON, "too-far"),
            (away or not within(starts, ends, her.zone, OPENS, CLOSES), "outside-hours"),
            (wall.minute % STEP, "off-grid"),
            (self.taught(teacher, starts, held_until, but=moving), "taken"),
            (
                self.clashes(student, starts, ends, but=-1 if moving is None else moving),
                "own-clash",
            ),
            (not self.humane(student, starts, ends), "minor-hours"),
        ):
            if broken:
                raise No(code)

    def _time_of_group(
        self,
        offering: str,
        teacher: int,
        starts: datetime,
        now: datetime,
        moving: int | None = None,
    ) -> tuple[datetime, datetime]:
        minutes, changeover = LENGTHS[offering]
        ends = starts + timedelta(minutes=minutes)
        held_until = ends + timedelta(minutes=changeover)
        if starts <= now:
            raise No("past")
        if self.taught(teacher, starts, held_until, but=moving):
            raise No("taken")
        return ends, held_until

    def _changeable(self, meeting: int, now: datetime) -> Meeting:
        it = self.meetings[meeting]
        if it.offering not in GROUPS:
            raise No("wrong-kind")
        if it.off or it.starts <= now:
            raise No("already-ended")
        return it

    def _joins(self, student: int, meeting: int, kind: str, now: datetime, *, clash: bool) -> None:
        it = self.meetings[meeting]
        hers = [b for b in self.live(meeting) if b.student == student]
        for broken, code in (
            (it.offering not in GROUPS, "wrong-kind"),
            (it.off, "already-ended"),
            (it.starts <= now, "past"),
            (not self.consents(student, now), "consent-missing"),
            (not self.humane(student, it.starts, it.ends), "minor-hours"),
            (
                any(b.kind == kind or (b.kind == PLAYER and b.standing == "HELD") for b in hers),
                "already-booked",
            ),
            (it.places[kind] == 0, "no-place"),
            (clash and self.clashes(student, it.starts, it.ends, but=meeting), "own-clash"),
        ):
            if broken:
                raise No(code)
