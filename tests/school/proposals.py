"""One instructor who proposes times to one student, whom they teach."""

from datetime import datetime

from bookings.door import write
from bookings.models import Booking, ProposedTimes
from bookings.operations.move_requests import request_move
from bookings.operations.proposed_times import (
    decline_times,
    propose_other_times,
    propose_times,
    withdraw_times,
)
from bookings.operations.taking_times import take_time
from tests import cast
from tests.cast import NOW, at
from tests.school.consultations import School

STARTS = (at("2027-03-12T15:30Z"), at("2027-03-12T17:30Z"), at("2027-03-13T11:00Z"))
"""Friday 12 March 2027, 15:30 and 17:30 in Dublin, and Saturday 11:00."""


class ProposingSchool(School):
    """Ilse has taught Noor, and proposes times to them."""

    def __init__(self) -> None:
        super().__init__()
        cast.taught(self.ilse, self.noor, self.consultation)

    def propose(self, starts=STARTS, *, student=None, actor=None, now=NOW) -> ProposedTimes:
        return write(
            lambda: propose_times(
                actor=actor or self.ilse.user,
                student=student or self.noor,
                offering=self.consultation,
                instructor=self.ilse,
                starts=starts,
                now=now,
            ),
            now=now,
        )

    def ask(self, lesson: Booking, starts_at: datetime, now=NOW):
        return write(
            lambda: request_move(
                actor=self.noor.user, booking=lesson, starts_at=starts_at, now=now
            ),
            now=now,
        )

    def propose_instead(self, request, starts=STARTS, now=NOW) -> ProposedTimes:
        return write(
            lambda: propose_other_times(
                actor=self.ilse.user, request=request, starts=starts, now=now
            ),
            now=now,
        )

    def take(self, proposal: ProposedTimes, number=0, *, actor=None, now=NOW) -> Booking:
        booking = times_of(proposal)[number]
        return write(
            lambda: take_time(
                actor=actor or self.noor.user, proposal=proposal, booking_id=booking.pk, now=now
            ),
            now=now,
        )

    def decline(self, proposal: ProposedTimes, now=NOW) -> ProposedTimes:
        return write(
            lambda: decline_times(actor=self.noor.user, proposal=proposal, now=now), now=now
        )

    def withdraw(self, proposal: ProposedTimes, now=NOW) -> ProposedTimes:
        return write(
            lambda: withdraw_times(actor=self.ilse.user, proposal=proposal, now=now), now=now
        )


def times_of(proposal: ProposedTimes) -> list[Booking]:
    """Its times by start, with their meetings."""
    rows = Booking.objects.filter(proposed=proposal).select_related("meeting")
    return list(rows.order_by("starts_at"))


def standings(proposal: ProposedTimes) -> list[tuple[str, str, str]]:
    """(standing, why it ended, the meeting's status) of each of its times, by start."""
    return [(row.standing, row.ended_why, row.meeting.status) for row in times_of(proposal)]
