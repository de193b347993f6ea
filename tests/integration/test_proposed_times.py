"""Times proposed to a student: held for them, taken, declined, withdrawn or lapsed."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage, ProposedTimes
from bookings.operations.proposed_times import lapse_proposals
from bookings.queries.calendars import events_for
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW, at
from tests.integration.nothing_written import refused
from tests.school.proposals import STARTS, ProposingSchool, standings, times_of

pytestmark = pytest.mark.django_db

HELD = ("OFFERED", "", "TENTATIVE")


@pytest.fixture
def school():
    """Ilse has taught Noor."""
    return ProposingSchool()


def subjects(person):
    """The titles of this person's emails, in order of writing."""
    rows = OutboxMessage.objects.filter(recipient=person).order_by("pk")
    return list(rows.values_list("title", flat=True))


def test_each_proposed_time_is_held_and_in_no_calendar(school):
    """The instructor's time is kept, one plain email goes to the family, and no feed shows it."""
    proposal = school.propose()
    assert standings(proposal) == [HELD] * 3
    # Three days on it is night in New York, so the answer is due at 08:00 there.
    assert proposal.answer_by == at("2027-03-04T13:00Z")
    (email,) = OutboxMessage.objects.all()
    assert (email.recipient, email.calendar, email.method) == (school.noor.user, "", "")
    assert f"/proposed-times/{proposal.pk}/" in email.body
    shown = [*events_for(school.ilse.user, now=NOW), *events_for(school.noor.user, now=NOW)]
    assert [event for event in shown if event.starts_at in STARTS] == []
    assert list(findings()) == []


def test_nobody_else_can_book_a_held_time(school):
    """The solver and the guard see a held time as taken."""
    school.propose()
    marlo = cast.make_student("Marlo Finch")
    refused("taken", lambda: school.book(STARTS[0], student=marlo))


def test_taking_one_time_ends_the_others(school):
    """One is booked with its invitations; the others are free again, and no calendar hears it."""
    proposal = school.propose()
    school.take(proposal, 1)
    assert standings(proposal) == [
        ("ENDED", "not-chosen", "CANCELLED"),
        ("HELD", "", "CONFIRMED"),
        ("ENDED", "not-chosen", "CANCELLED"),
    ]
    taken = times_of(proposal)[1]
    assert (taken.answer_by, taken.partstat, taken.meeting.is_proposed) == (None, "ACCEPTED", False)
    sent = OutboxMessage.objects.exclude(calendar="")
    assert {row.meeting for row in sent} == {taken.meeting}
    assert set(sent.values_list("method", "sequence")) == {("REQUEST", 0)}
    proposal.refresh_from_db()
    assert (proposal.ended_why, proposal.ended_at) == ("placed", NOW)
    marlo = cast.make_student("Marlo Finch")
    assert school.book(STARTS[0], student=marlo).meeting.taken == 1
    assert list(findings()) == []


def test_a_time_is_taken_once(school):
    """A second answer, to the same time or to another, changes nothing."""
    proposal = school.propose()
    school.take(proposal)
    refused("offer-ended", lambda: school.take(proposal))
    refused("offer-ended", lambda: school.take(proposal, 1))
    refused("offer-ended", lambda: school.decline(proposal))


def test_none_suits_and_the_instructor_is_told_once(school):
    """Declined times are free again."""
    proposal = school.propose()
    school.decline(proposal)
    assert standings(proposal) == [("ENDED", "declined", "CANCELLED")] * 3
    assert subjects(school.ilse.user) == ["Proposed times not taken: Consultation, Noor"]
    refused("offer-ended", lambda: school.decline(proposal))


def test_an_answer_at_the_instant_it_lapses_is_too_late(school):
    """Until the second before it may be taken; at the instant itself it lapses, once."""
    proposal = school.propose()
    refused("offer-ended", lambda: school.take(proposal, now=proposal.answer_by))
    assert write(lambda: lapse_proposals(now=proposal.answer_by), now=proposal.answer_by) == 1
    assert write(lambda: lapse_proposals(now=proposal.answer_by), now=proposal.answer_by) == 0
    assert standings(proposal) == [("ENDED", "lapsed", "CANCELLED")] * 3
    assert len(subjects(school.ilse.user)) == 1
    other = school.propose(now=NOW + timedelta(hours=73))
    before = other.answer_by - timedelta(seconds=1)
    assert school.take(other, now=before).standing == "HELD"


def test_an_instructor_takes_their_times_back(school):
    """The family is told once, and an email that has not left is not sent."""
    proposal = school.propose()
    school.withdraw(proposal)
    assert standings(proposal) == [("ENDED", "removed", "CANCELLED")] * 3
    rows = OutboxMessage.objects.filter(recipient=school.noor.user).order_by("pk")
    assert [row.state for row in rows] == ["superseded", "due"]
    assert rows[1].title == "Proposed times ended: Consultation with I. Quarrow"
    assert subjects(school.ilse.user) == []


def test_a_student_has_at_most_three_proposed_times(school):
    """All proposals together; ended ones do not count."""
    first = school.propose(STARTS[:2])
    refused("limit-reached", lambda: school.propose([STARTS[2], at("2027-03-13T13:00Z")]))
    refused("limit-reached", lambda: school.propose([*STARTS, at("2027-03-13T13:00Z")]))
    assert school.propose(STARTS[2:]).pk
    school.decline(first)
    assert school.propose(STARTS[:2]).pk


@pytest.mark.parametrize(
    ("code", "starts"),
    [
        ("invalid", []),
        ("invalid", ["2027-03-12T17:30Z", "2027-03-12T17:30Z"]),
        ("outside-hours", ["2027-03-12T17:30Z", "2027-03-12T22:00Z"]),
        ("past", ["2027-03-01T08:30Z"]),
        ("off-grid", ["2027-03-12T17:31Z"]),
        ("too-soon", ["2027-03-01T12:30Z"]),
    ],
)
def test_times_that_cannot_be_held_are_refused_together(school, code, starts):
    """One bad time is enough, and nothing is left behind."""
    refused(code, lambda: school.propose([at(start) for start in starts]))
    assert not ProposedTimes.objects.exists()
    assert Meeting.objects.filter(is_proposed=True).count() == 0


def test_a_proposal_needs_a_guardians_consent(school):
    """Nothing is held for a child before a guardian has agreed, at proposing and at taking."""
    posy = cast.make_minor(consent=False)
    with pytest.raises(Refused, match="consent"):
        school.propose(student=posy)
    assert not ProposedTimes.objects.exists()
    kit = cast.make_minor("Kit Lindqvist-Reed", "Europe/Dublin")
    proposal = school.propose(student=kit)
    kit.guardianships.update(consent_at=None, consent_wording="")
    guardian = kit.guardians.get()
    with pytest.raises(Refused, match="consent"):
        school.take(proposal, actor=guardian)
    assert standings(proposal) == [HELD] * 3


def test_a_minors_hours_are_judged_at_taking(school):
    """A child who lives elsewhere by now cannot take a time that is night there."""
    kit = cast.make_minor("Kit Lindqvist-Reed", "Europe/Dublin")
    proposal = school.propose(student=kit)
    kit.own_time_zone = "Australia/Sydney"
    kit.save()
    refused("minor-hours", lambda: school.take(proposal, actor=kit.guardians.get()))


def test_a_held_time_does_not_keep_the_student_from_booking(school):
    """It holds the instructor's time only; taking it then clashes with what was booked."""
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    cast.teaches(wren, school.consultation)
    cast.publish(wren, cast.EVERY_DAY)
    proposal = school.propose()
    cast.make_booking(cast.make_meeting(school.consultation, wren, STARTS[0]), school.noor)
    refused("own-clash", lambda: school.take(proposal))
    assert school.take(proposal, 1).standing == "HELD"


def test_proposals_are_told_in_the_record(school):
    """Who proposed, took and declined is in the audit; no time or name is."""
    school.take(school.propose())
    school.decline(school.propose(STARTS[1:]))
    verbs = AuditRow.objects.filter(thing__in=["proposedtimes", "booking"]).order_by("pk")
    assert [row.verb for row in verbs] == [
        "proposed times",
        "took a time",
        "proposed times",
        "declined",
    ]


def test_a_taken_time_is_cancelled_like_any_other_lesson(school):
    """It counts as the student's own: the school did not book it."""
    taken = school.take(school.propose())
    assert (taken.decline_by, taken.booked_by) == (None, school.noor.user)
    assert Booking.objects.live().filter(pk=taken.pk).exists()
