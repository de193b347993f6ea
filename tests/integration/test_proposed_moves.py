"""A request to move answered with other times: the lesson moves there, or stays."""

from datetime import date

import pytest

from bookings.door import write
from bookings.models import Booking, MoveRequest, OutboxMessage, OwedLesson, ProposedTimes
from bookings.operations.booking import cancel_slot, move_slot
from bookings.operations.calling_off import call_off
from bookings.operations.proposed_times import lapse_proposals
from bookings.queries.places_audit import findings
from tests.cast import NOW, at
from tests.integration.nothing_written import refused
from tests.school.proposals import STARTS, ProposingSchool, standings

pytestmark = pytest.mark.django_db

LESSON_AT, WISH = at("2027-03-15T17:30Z"), at("2027-03-16T10:00Z")


@pytest.fixture
def school():
    """Noor's lesson on 15 March, which they ask to move."""
    made = ProposingSchool()
    made.lesson = made.book(LESSON_AT)
    made.request = made.ask(made.lesson, WISH)
    return made


def state(school):
    """The request's state and the lesson's start."""
    school.request.refresh_from_db()
    lesson = Booking.objects.get(pk=school.lesson.pk)
    return school.request.state, lesson.starts_at


def test_taking_a_time_moves_the_lesson_itself(school):
    """The same booking, meeting and UID, with SEQUENCE plus 1; the held times are free again."""
    proposal = school.propose_instead(school.request)
    assert state(school) == (MoveRequest.State.PROPOSED, LESSON_AT)
    moved = school.take(proposal, 2)
    assert (moved.pk, moved.meeting_id) == (school.lesson.pk, school.lesson.meeting_id)
    assert moved.meeting.uid == school.lesson.meeting.uid
    assert (moved.meeting.sequence, moved.meeting.starts_at) == (1, STARTS[2])
    assert state(school) == (MoveRequest.State.ACCEPTED, STARTS[2])
    assert standings(proposal) == [
        ("ENDED", "not-chosen", "CANCELLED"),
        ("ENDED", "not-chosen", "CANCELLED"),
        ("ENDED", "moved", "CANCELLED"),
    ]
    sent = OutboxMessage.objects.exclude(calendar="")
    assert {row.meeting_id for row in sent} == {moved.meeting_id}
    assert list(findings()) == []


@pytest.mark.parametrize("how", ["decline", "lapse"])
def test_a_lesson_stays_where_no_time_is_taken(school, how):
    """Both sides are told once, and the request is closed."""
    proposal = school.propose_instead(school.request)
    told = OutboxMessage.objects.count()
    if how == "decline":
        school.decline(proposal)
    else:
        write(lambda: lapse_proposals(now=proposal.answer_by), now=proposal.answer_by)
    assert state(school) == (MoveRequest.State.CLOSED, LESSON_AT)
    emails = OutboxMessage.objects.order_by("pk")[told:]
    assert {row.recipient for row in emails} == {school.noor.user, school.ilse.user}
    assert len(emails) == 2
    assert all("The lesson stays where it is" in row.body for row in emails)


def test_times_taken_back_leave_the_lesson_and_close_the_request(school):
    """The family is told once."""
    school.withdraw(school.propose_instead(school.request))
    assert state(school) == (MoveRequest.State.CLOSED, LESSON_AT)
    last = OutboxMessage.objects.order_by("-pk").first()
    assert (last.recipient, last.title) == (
        school.noor.user,
        "Proposed times ended: Consultation with I. Quarrow",
    )


def _cancel(school):
    return cancel_slot(actor=school.noor.user, booking=school.lesson, now=NOW)


def _move(school):
    return move_slot(
        actor=school.noor.user,
        booking=school.lesson,
        starts_at=at("2027-03-17T10:00Z"),
        now=NOW,
    )


def _call_off(school):
    return call_off(actor=school.ilse.user, meeting=school.lesson.meeting, why="Ill.", now=NOW)


def _ask_again(school):
    return school.ask(school.lesson, at("2027-03-18T10:00Z"))


@pytest.mark.parametrize("act", [_cancel, _move, _call_off, _ask_again])
def test_a_proposal_ends_when_its_lesson_ends_moves_or_is_asked_about_anew(school, act):
    """Its times are free, and no calendar is told of them."""
    proposal = school.propose_instead(school.request)
    write(lambda: act(school), now=NOW)
    assert standings(proposal) == [("ENDED", "not-chosen", "CANCELLED")] * 3
    school.request.refresh_from_db()
    assert school.request.state == MoveRequest.State.CLOSED
    calendars = OutboxMessage.objects.exclude(calendar="").values_list("meeting", flat=True)
    assert set(calendars) == {school.lesson.meeting_id}
    assert list(findings()) == []


def test_an_answered_request_takes_no_proposal(school):
    """The second answer of two is refused."""
    school.propose_instead(school.request)
    refused("already-done", lambda: school.propose_instead(school.request, STARTS))


def test_a_proposed_time_may_not_overlap_the_lesson_itself(school):
    """The instructor teaches then, until it moves."""
    refused("taken", lambda: school.propose_instead(school.request, [LESSON_AT]))
    assert not ProposedTimes.objects.exists()


def test_a_proposal_lapses_before_its_lesson_begins(school):
    """Half of the time left is counted to the lesson, where it comes first."""
    later = [at("2027-03-29T10:00Z")]
    now = at("2027-03-15T09:30Z")
    request = school.ask(school.lesson, WISH, now=now)
    proposal = school.propose_instead(request, later, now=now)
    assert proposal.answer_by == at("2027-03-15T13:30Z")


def test_a_lesson_that_begins_too_soon_is_moved_or_left(school):
    """There is no time by day to answer a proposal."""
    now = at("2027-03-15T14:00Z")
    request = school.ask(school.lesson, WISH, now=now)
    refused(
        "too-soon",
        lambda: school.propose_instead(request, [at("2027-03-30T10:00Z")], now=now),
    )


def test_a_make_up_lesson_is_neither_asked_nor_proposed_to_move_past_its_use_by_date(school):
    """What could not be taken is not held, and what could not be granted is not asked for."""
    taught = Booking.objects.exclude(pk=school.lesson.pk).get()
    school.lesson.makes_up = OwedLesson.objects.create(
        booking=taught,
        student=school.noor,
        offering=taught.meeting.offering,
        minutes=taught.meeting.minutes,
        cause="instructor-absent",
        use_by=date(2027, 3, 12),
        owed_at=NOW,
    )
    school.lesson.save(update_fields=["makes_up"])
    refused("use-by-passed", lambda: school.propose_instead(school.request))
    refused("use-by-passed", lambda: school.ask(school.lesson, WISH))
    school.propose_instead(school.request, STARTS[:2])
