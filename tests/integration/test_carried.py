"""What group meetings cost a student is carried only for the places that are theirs."""

from datetime import date

import pytest

from bookings.domain.timeline import Period
from bookings.door import write
from bookings.models import Booking, CarriedBurden, Meeting
from bookings.operations.calling_off import call_off
from bookings.operations.meetings import change_meeting
from bookings.operations.places import leave_place
from bookings.operations.plans import adopt_plan
from bookings.operations.reinstating import reinstate_meeting
from bookings.operations.terms import publish_term
from bookings.queries.student_times import hour_of
from tests.cast import at
from tests.school.plans import ASKED_AT, DECIDED_AT, PlanningSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch):
    """Two meetings are adopted in the first of two terms. Noor pays 1 for one, Asha for the other.

    The clock of the solver stands at ASKED_AT.
    """
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    school = PlanningSchool()
    _publish(school, "Spring", date(2027, 1, 11), date(2027, 4, 9))
    _publish(school, "Summer", date(2027, 4, 12), date(2027, 7, 9))
    school.decide(adopt_plan, school.solved(last_on="2027-02-10", meetings=2))
    return school


def _publish(school, name, first_on, last_on):
    act(
        publish_term,
        actor=school.admin,
        name=name,
        first_on=first_on,
        last_on=last_on,
        lessons_promised=12,
    )


def act(operation, **what):
    return write(lambda: operation(**what, now=DECIDED_AT), now=DECIDED_AT)


def carried(student):
    """What a student carries, by the name of the term."""
    rows = CarriedBurden.objects.filter(student=student, burden__gt=0)
    return {row.term.name: row.burden for row in rows.select_related("term")}


def paid_by(student):
    """The booking for which the student pays 1."""
    return Booking.objects.with_details().get(student=student, burden=1)


def test_each_place_tells_what_its_hour_costs(school):
    """Noor and Asha pay 1 each; Oona pays nothing, and no row says that they do."""
    assert (carried(school.noor), carried(school.asha)) == ({"Spring": 1}, {"Spring": 1})
    assert carried(school.oona) == {}


def test_a_meeting_that_is_called_off_costs_nothing_and_costs_again_once_reinstated(school):
    """Only those who paid for that meeting carry less."""
    meeting = paid_by(school.noor).meeting
    act(call_off, actor=school.admin, meeting=meeting, why="Ilse is ill.")
    assert (carried(school.noor), carried(school.asha)) == ({}, {"Spring": 1})
    act(reinstate_meeting, actor=school.admin, meeting=Meeting.objects.get(pk=meeting.pk))
    assert (carried(school.noor), carried(school.asha)) == ({"Spring": 1}, {"Spring": 1})


def test_a_member_who_is_removed_carries_nothing_for_that_meeting(school):
    """An admin takes them off the roster."""
    act(leave_place, actor=school.admin, booking=paid_by(school.asha), reason="Asked to stop.")
    assert (carried(school.noor), carried(school.asha)) == ({"Spring": 1}, {})


def test_a_member_who_cancels_carries_nothing_for_that_meeting(school):
    """In time or late: the hour is not theirs any more."""
    act(leave_place, actor=school.noor.user, booking=paid_by(school.noor))
    assert carried(school.noor) == {}


def test_a_meeting_that_is_moved_by_hand_costs_what_its_new_hour_costs(school):
    """The plan read another hour. For Noor in New York it is noon then, and two at night."""
    meeting = paid_by(school.noor).meeting
    noors = Booking.objects.get(meeting=meeting, student=school.noor)
    for starts_at, costs in (("2027-02-17T17:00Z", 0), ("2027-02-17T07:00Z", 20)):
        act(
            change_meeting,
            actor=school.admin,
            meeting=Meeting.objects.get(pk=meeting.pk),
            starts_at=at(starts_at),
        )
        noors.refresh_from_db()
        assert noors.burden == hour_of(school.noor, Period(noors.starts_at, noors.ends_at)).cost
        assert noors.burden == costs
        assert carried(school.noor) == ({"Spring": costs} if costs else {})


def test_a_meeting_that_moves_into_another_term_is_carried_there(school):
    """And no longer in the term it left."""
    meeting = paid_by(school.noor).meeting
    later = at("2027-04-14T12:30Z")  # 08:30 in New York, as before
    act(change_meeting, actor=school.admin, meeting=meeting, starts_at=later)
    assert carried(school.noor) == {"Summer": 1}
