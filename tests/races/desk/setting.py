"""What the desk asks of the school around it: the clock, the hours, the people."""

from collections.abc import Iterator
from datetime import datetime
from typing import Protocol

from tests.races.desk.rows import ENDED, OFFERED, Booking, Desk, Meeting, Proposal, Wait

NOT_CHOSEN = "not-chosen"


class Setting:
    """A school that refuses nothing by itself and has no clock. Others say more."""

    now: datetime | None = None

    # ---- the clock
    def begun(self, starts_at: datetime) -> bool:
        return False

    def is_late(self, booking: Booking) -> bool:
        """Whether the time to cancel free of charge has passed."""
        return False

    def is_over(self, offer: Booking) -> bool:
        """Whether the time to answer has passed."""
        return False

    def untimely(self, starts_at: datetime, *, by_school: bool = False) -> Iterator[str]:
        """What the clock says against the start of a one-on-one; no lead time binds the school."""
        yield from ()

    def is_open(self, meeting: Meeting) -> bool:
        """Whether the instructor teaches at that time."""
        return True

    def on_grid(self, meeting: Meeting) -> bool:
        return True

    # ---- people
    def consents(self, student: int) -> bool:
        return True

    def one_family(self, one: Booking, other: Booking) -> bool:
        """Whether one person gets the emails about both."""
        return True

    def humane(self, student: int, starts_at: datetime, ends_at: datetime) -> bool:
        """Whether it is no minor's night."""
        return True

    def at_level(self, student: int, meeting: Meeting) -> bool:
        """Whether the instructor teaches it at the student's level."""
        return True

    def allowance_used(self, desk: Desk, student: int, offering: str) -> bool:
        return False

    # ---- what the school proposes or books
    def is_due(self, proposal: Proposal) -> bool:
        """Whether the time to answer has passed."""
        return False

    def hasty(self, student: int, first: datetime) -> Iterator[str]:
        """What forbids to propose times of which this is the first: no time to answer is left."""
        yield from ()

    def times_answer_by(self, student: int, first: datetime) -> datetime | None:
        return None

    def decline_by(self, starts_at: datetime) -> datetime | None:
        return None

    def may_decline(self, booking: Booking) -> bool:
        return booking.decline_by is not None

    # ---- offers
    def is_near(self, meeting: Meeting, student: int) -> bool:
        """Whether nobody has time to answer an offer, so that the first yes has the place."""
        return False

    def may_take(self, meeting: Meeting, student: int) -> bool:
        """Whether an offer can go to them; if not they keep their rank."""
        return True

    def answer_by(self, meeting: Meeting, student: int) -> datetime | None:
        return None

    def offered(self, desk: Desk, wait: Wait) -> int:
        """The id of the booking that is offered to this place in a queue."""
        return len(desk.bookings)

    def why_cancelled(self, booking: Booking) -> str:
        return "cancelled-late" if self.is_late(booking) else "cancelled-in-time"


class Act(Protocol):
    """One act at the desk."""

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        """The code of every rule that forbids it, in the order in which the desk speaks."""

    def done(self, desk: Desk, setting: Setting) -> Desk:
        """The desk after it, where no rule forbids it."""


def ended(desk: Desk, booking: Booking, why: str, setting: Setting) -> Desk:
    """The booking has ended, with times proposed instead; who is next is not asked."""
    desk = desk.with_booking(booking._replace(standing=ENDED, why=why, ended_at=setting.now))
    return without_times_for(desk, booking.id, setting)


def open_times(desk: Desk, proposal: int) -> list[Booking]:
    """The times of a proposal that can still be taken, by id."""
    return sorted(
        row for row in desk.bookings if row.proposed == proposal and row.standing == OFFERED
    )


def times_ended(
    desk: Desk, proposal: Proposal, why: str, setting: Setting, *, times_why: str = ""
) -> Desk:
    """A proposal has ended with the times that it still holds."""
    for row in open_times(desk, proposal.id):
        meeting = desk.meeting(row.meeting)
        assert meeting is not None
        desk = desk.with_meeting(meeting._replace(off=True))
        desk = ended(desk, row, times_why or why, setting)
    return desk.with_proposal(proposal._replace(why=why, ended_at=setting.now))


def without_times_for(desk: Desk, booking: int, setting: Setting) -> Desk:
    """Nobody takes another time for a lesson that has ended or moved."""
    for proposal in desk.proposals:
        if proposal.moves == booking and not proposal.why:
            desk = times_ended(desk, proposal, NOT_CHOSEN, setting)
    return desk


def waits_no_more(desk: Desk, wait: Wait | None, why: str, setting: Setting) -> Desk:
    if wait is None:
        return desk
    return desk.with_wait(wait._replace(why=why, ended_at=setting.now))
