"""Proposed times as they stand under the locks: held and ended.

Whoever holds, takes or ends one has locked its instructor first. That lock alone keeps two people
from changing the same proposal.
"""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import F

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.vocabulary import Ended, MeetingStatus, PartStat, Standing
from bookings.models import Booking, Meeting, MoveRequest, ProposedTimes
from bookings.operations.audit import record
from bookings.operations.starts import AllowedStart, write_at_start


def hold_time(
    proposal: ProposedTimes, start: AllowedStart, *, actor: User, now: datetime
) -> Booking:
    """Holds one start for the student: a TENTATIVE meeting with an OFFERED booking."""
    meeting = Meeting(offering=proposal.offering, status=MeetingStatus.TENTATIVE, is_proposed=True)
    time = Booking(
        standing=Standing.OFFERED,
        partstat=PartStat.NEEDS_ACTION,
        answer_by=proposal.answer_by,
        proposed=proposal,
    )
    return write_at_start(meeting, time, start, actor=actor, now=now)


def end_proposal(
    proposal: ProposedTimes, *, why: Ended, times_why: Ended | None = None, now: datetime
) -> None:
    """Ends a proposal with the times it still holds, which end with `times_why` or else `why`.

    Its request to move is answered with it. The instructor's time is free again, and no calendar
    has ever shown the times.
    """
    held = Booking.objects.proposed().filter(proposed=proposal)
    # The meetings first: which they are is read from the open times.
    Meeting.objects.filter(pk__in=list(held.values_list("meeting_id", flat=True))).update(
        status=MeetingStatus.CANCELLED, taken=0, version=F("version") + 1, changed_at=now
    )
    held.update(
        standing=Standing.ENDED,
        ended_at=now,
        ended_why=times_why or why,
        version=F("version") + 1,
    )
    proposal.ended_at, proposal.ended_why = now, why
    proposal.version += 1
    proposal.save(update_fields=["ended_at", "ended_why", "version"])
    state = MoveRequest.State.ACCEPTED if why is Ended.PLACED else MoveRequest.State.CLOSED
    MoveRequest.objects.filter(proposal=proposal).update(state=state, answered_at=now)
    outbox.withdraw_question(f"proposed-times:{proposal.pk}")


def end_and_tell(
    proposals: Iterable[ProposedTimes], *, actor: User | None, why: Ended, now: datetime
) -> None:
    """Ends these open proposals, and tells those who have not done it themselves, once each."""
    for proposal in proposals:
        end_proposal(proposal, why=why, now=now)
        record(actor=actor, verb=why.value, thing=proposal, fields=["ended_at"], now=now)
        outbox.enqueue(notices.proposal_ended(proposal, now=now), now=now)
        outbox.bump_feeds([proposal.instructor.user_id], now=now)


def close_proposals(booking: Booking, *, now: datetime) -> None:
    """Ends open proposals to move this lesson, which has ended or moved in another way."""
    rows = ProposedTimes.objects.unanswered().filter(move_request__booking=booking)
    for proposal in rows:
        end_proposal(proposal, why=Ended.NOT_CHOSEN, now=now)
