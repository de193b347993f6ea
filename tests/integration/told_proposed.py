"""The emails about proposed times, and about what a school books and a family may decline."""

from datetime import timedelta

from bookings import notices
from bookings.domain.vocabulary import Ended, Standing
from bookings.models import MoveRequest, ProposedTimes
from tests.cast import NOW, at
from tests.integration.told_words import LATER, Told, end
from tests.school.golden import School


def proposed(school: School) -> Told:
    """Times proposed, and their end; a proposal in answer to a request to move."""
    proposal = _proposal(school)
    times = [
        school.booking(
            school.meeting(starts_at=start, status="TENTATIVE", is_proposed=True),
            school.noor,
            standing=Standing.OFFERED,
            answer_by=proposal.answer_by,
            proposed=proposal,
        )
        for start in ("2027-03-16T21:00Z", "2027-03-17T20:30Z")
    ]
    yield "times_proposed", notices.times_proposed([(proposal, times)], now=NOW)
    for name, why in (("taken_back", Ended.REMOVED), ("lapsed", Ended.LAPSED)):
        proposal.ended_why = why
        yield f"times_{name}", notices.proposal_ended(proposal, now=LATER)
    booking = school.booked("2027-03-18T20:00Z")
    proposal.move_request = MoveRequest(
        pk=school.key(),
        booking=booking,
        asked_by=school.noor.user,
        starts_at=at("2027-03-19T21:00Z"),
        asked_at=NOW,
    )
    yield "other_times_proposed", notices.times_proposed([(proposal, times)], now=NOW)
    proposal.ended_why = Ended.DECLINED
    yield "other_times_declined", notices.proposal_ended(proposal, now=LATER)


def declined(school: School) -> Told:
    """A lesson that the instructor booked, and that the family declines."""
    booking = school.booking(
        school.meeting(starts_at="2027-03-22T20:00Z"),
        school.noor,
        decline_by=NOW + timedelta(hours=24),
    )
    yield "booked_by_the_school", notices.booking_made(booking, now=NOW)
    yield (
        "declined",
        notices.booking_ended(end(booking, Ended.DECLINED, whole=True), now=LATER),
    )


def _proposal(school: School) -> ProposedTimes:
    return ProposedTimes.objects.create(
        pk=school.key(),
        student=school.noor,
        offering=school.consultation,
        instructor=school.ilse,
        made_by=school.ilse.user,
        made_at=NOW,
        answer_by=at("2027-03-04T13:00Z"),
    )
