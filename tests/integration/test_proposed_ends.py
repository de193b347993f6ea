"""What ends a proposal from outside: days away, a dismissal, a student who leaves."""

from datetime import date

import pytest

from bookings.door import write
from bookings.models import Meeting, OutboxMessage
from bookings.operations.closing import close_account, leave_school
from bookings.operations.days_away import come_back, go_away
from bookings.operations.guardians import withdraw_consent
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.reinstating import reinstate_meeting
from bookings.queries.days_away import days_period, meetings_in_the_way
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW
from tests.integration.nothing_written import refused
from tests.school.proposals import ProposingSchool, standings, times_of

pytestmark = pytest.mark.django_db

AWAY_ON = date(2027, 3, 12)


@pytest.fixture
def school():
    """Ilse has proposed three times to Noor, two of them on 12 March."""
    made = ProposingSchool()
    made.proposal = made.propose()
    made.dag = cast.make_admin()
    return made


def _away(school, **more):
    return write(
        lambda: go_away(
            actor=school.ilse.user,
            instructor=school.ilse,
            first_on=AWAY_ON,
            last_on=AWAY_ON,
            time_zone="Europe/Dublin",
            now=NOW,
            **more,
        ),
        now=NOW,
    )


def test_days_away_take_proposed_times_back_without_asking(school):
    """They are in nobody's way: the family is told once, and no calendar hears of it."""
    days = days_period(AWAY_ON, AWAY_ON, "Europe/Dublin")
    in_the_way = meetings_in_the_way(school.ilse, since=days.starts_at, until=days.ends_at, now=NOW)
    assert in_the_way == []
    gone = _away(school, decisions=[])
    assert gone.called_off == []
    assert standings(school.proposal) == [("ENDED", "removed", "CANCELLED")] * 3
    last = OutboxMessage.objects.get(state="due")
    assert (last.recipient, last.calendar) == (school.noor.user, "")


def test_a_proposed_time_is_never_reinstated(school):
    """It was not called off for the days away, so coming back does not name it."""
    lesson = school.book(times_of(school.proposal)[2].starts_at.replace(hour=14))
    gone = _away(school, call_off_why="A concert.")
    assert lesson.meeting not in gone.called_off
    back = write(lambda: come_back(actor=school.ilse.user, away=gone.away, now=NOW), now=NOW)
    assert back.called_off == []
    held = times_of(school.proposal)[0].meeting
    refused(
        "already-ended",
        lambda: reinstate_meeting(actor=school.ilse.user, meeting=held, now=NOW),
    )


def test_a_dismissed_instructor_leaves_no_proposal(school):
    """Nothing stands in the way of a dismissal but meetings."""
    write(lambda: dismiss_instructor(actor=school.dag, instructor=school.ilse, now=NOW), now=NOW)
    assert standings(school.proposal) == [("ENDED", "removed", "CANCELLED")] * 3
    assert list(findings()) == []


@pytest.mark.parametrize("how", ["leaves", "closed"])
def test_a_student_who_leaves_ends_what_is_proposed_to_them(school, how):
    """The instructor is told once, and their hours are free."""
    if how == "leaves":
        write(lambda: leave_school(actor=school.dag, student=school.noor, now=NOW), now=NOW)
    else:
        write(lambda: close_account(actor=school.dag, user=school.noor.user, now=NOW), now=NOW)
    assert standings(school.proposal) == [("ENDED", "left", "CANCELLED")] * 3
    told = OutboxMessage.objects.filter(recipient=school.ilse.user)
    assert [row.title for row in told] == ["Proposed times not taken: Consultation, Noor"]
    assert not Meeting.objects.filter(status="TENTATIVE").exists()


def test_a_consent_withdrawn_ends_what_is_proposed_to_the_child(school):
    """Nothing is held for a child whom nobody consents for."""
    kit = cast.make_minor("Kit Lindqvist-Reed", "Europe/Dublin")
    school.withdraw(school.proposal)
    proposal = school.propose(student=kit)
    row = kit.guardianships.get()
    write(lambda: withdraw_consent(actor=row.guardian, guardianship=row, now=NOW), now=NOW)
    assert standings(proposal) == [("ENDED", "left", "CANCELLED")] * 3
