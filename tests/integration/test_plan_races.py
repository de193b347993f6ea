"""Two admins adopt at the same moment, in transactions of their own, on either database."""

from datetime import date

import pytest

from bookings import solving
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.door import write
from bookings.models import Booking, CarriedBurden, Meeting, OutboxMessage, Plan, WeeklyPlace
from bookings.operations.plans import adopt_plan, ask_for_plan
from bookings.operations.terms import publish_term
from bookings.queries.places_audit import findings
from tests import cast
from tests.school.plans import ASKED_AT, DECIDED_AT, PlanningSchool
from tests.threads import together

pytestmark = pytest.mark.django_db(transaction=True)
ATTEMPTS = range(3)


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at ASKED_AT, in a term."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    school = PlanningSchool()
    school.term = write(
        lambda: publish_term(
            actor=school.admin,
            name="Spring",
            first_on=date(2027, 2, 1),
            last_on=date(2027, 2, 28),
            lessons_promised=4,
            now=ASKED_AT,
        ),
        now=ASKED_AT,
    )
    return school


def adopting(school, plan):
    """An act that adopts it, as it was read."""
    return lambda: school.decide(adopt_plan, plan, version=plan.version)


def codes(raised):
    """What was refused; anything but a refusal by its own words."""
    return [error.code if isinstance(error, Refused) else repr(error) for error in raised]


def states():
    return sorted(Plan.objects.values_list("state", flat=True))


@pytest.mark.parametrize("attempt", ATTEMPTS)
def test_two_plans_for_one_hour_are_never_both_adopted(school, attempt):
    """The same members at the same start: one plan is adopted whole, the other is refused whole
    and can still be discarded; every member is booked and pays once.
    """
    plans = [school.solved(last_on="2027-02-10", meetings=2) for _ in range(2)]
    raised = together(*[adopting(school, plan) for plan in plans])
    assert codes(raised) == ["plan-outdated"]
    assert states() == ["ADOPTED", "READY"]
    assert (Meeting.objects.count(), Booking.objects.held().count()) == (2, 6)
    paid = CarriedBurden.objects.filter(burden__gt=0).values_list("student", "burden")
    assert sorted(paid) == sorted([(school.noor.pk, 1), (school.asha.pk, 1)])
    told = OutboxMessage.objects.filter(recipient=school.noor.user, method="", due_at=DECIDED_AT)
    assert told.count() == 1
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", ATTEMPTS)
def test_two_plans_that_do_not_meet_are_both_adopted(school, attempt):
    """Two groups of one instructor on two days: neither waits for the other in vain."""
    plans = [
        school.solved(first_on=day, last_on=day, members=members)
        for day, members in (
            ("2027-02-03", [school.noor, school.oona]),
            ("2027-02-10", [school.oona, school.asha]),
        )
    ]
    assert codes(together(*[adopting(school, plan) for plan in plans])) == []
    assert states() == ["ADOPTED", "ADOPTED"]
    assert (Meeting.objects.count(), Booking.objects.held().count()) == (2, 4)
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", ATTEMPTS)
def test_one_plan_adopted_twice_at_once_is_adopted_once(school, attempt):
    """Two admins who read the same version."""
    plan = school.solved()
    raised = together(adopting(school, plan), adopting(school, plan))
    assert len(raised) == 1
    assert codes(raised)[0] in ("stale", "already-ended")
    assert (Meeting.objects.count(), Booking.objects.held().count()) == (1, 3)


@pytest.mark.parametrize("attempt", ATTEMPTS)
def test_two_timetables_of_one_term_are_never_mixed(school, attempt):
    """Each gives the same students weekly places: all are of one plan, with every lesson."""
    lesson = cast.make_offering("Private lesson", "private-lesson", 45)
    cast.teaches(school.ilse, lesson)
    asked = {
        "term": school.term.pk,
        "offering": lesson.pk,
        "instructors": [school.ilse.pk],
        "students": [school.oona.pk, school.noor.pk],
    }
    fixed = [_at(school, school.oona, 900), _at(school, school.oona, 1020)]
    plans = [_timetable(school, {**asked, "fixed": [one]}) for one in fixed]
    raised = together(*[adopting(school, plan) for plan in plans])
    assert len(raised) <= 1, codes(raised)
    kept = WeeklyPlace.objects.filter(ended_at__isnull=True)
    of_each = [
        {(row["student"], row["wall_at"]) for row in plan.answer["placed"]} for plan in plans
    ]
    assert set(kept.values_list("student", "wall_at")) in of_each
    lessons = Booking.objects.held().filter(meeting__weekly_place__in=kept)
    assert lessons.count() == 4 * kept.count() == 8
    assert list(findings()) == []


def _at(school, student, minute):
    return {
        "student": student.pk,
        "instructor": school.ilse.pk,
        "weekday": 2,
        "wall_at": minute,
    }


def _timetable(school, asked):
    plan = write(
        lambda: ask_for_plan(
            actor=school.admin, kind=PlanKind.TIMETABLE, asked=asked, now=ASKED_AT
        ),
        now=ASKED_AT,
    )
    solving.solve_plans()
    plan.refresh_from_db()
    assert plan.is_answered, plan.failure
    return plan
