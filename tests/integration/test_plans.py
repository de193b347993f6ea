"""Plans: asked for, solved beside the requests, stopped, adopted whole or not at all, discarded."""

from datetime import date

import pytest

from bookings import solving
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, Booking, CarriedBurden, Meeting, OutboxMessage, Plan
from bookings.operations.meetings import create_meeting
from bookings.operations.plans import adopt_plan, discard_plan
from bookings.operations.terms import publish_term
from tests import cast
from tests.cast import at
from tests.integration.nothing_written import refused
from tests.school.plans import ASKED_AT, DECIDED_AT, PlanningSchool, starts_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    return PlanningSchool()


def outdated(school, plan):
    """The data of the refusal to adopt the plan."""
    with pytest.raises(Refused) as caught:
        school.decide(adopt_plan, plan)
    assert caught.value.code == "plan-outdated"
    return caught.value.data


def test_the_least_greatest_burden_of_dublin_new_york_and_kolkata_is_1(school):
    """Source: the computed check values of TRADE.md 5 (tz data 2026f): on 3 February 2027 New York
    pays 1 at 13:00Z or 13:30Z, and Kolkata 1 at 14:00Z or 14:30Z.
    """
    answer = school.solved().answer
    assert starts_of(answer) == ["2027-02-03T13:00:00Z"]
    burdens = answer["meetings"][0]["burdens"]
    assert burdens == {str(school.oona.pk): 0, str(school.noor.pk): 1, str(school.asha.pk): 0}
    fair = [start for start, burden in answer["day"].items() if burden <= 1]
    assert fair == [f"2027-02-03T{hour}:00Z" for hour in ("13:00", "13:30", "14:00", "14:30")]


def test_over_four_meetings_new_york_and_kolkata_pay_2_each(school):
    """Source: TRADE.md 5 and the acceptance scenario of the fair time: four meetings, each with 1
    at most; whoever carried more is spared.
    """
    dates = {"first_on": "2027-02-03", "last_on": "2027-03-03", "meetings": 4}
    answer = school.solved(**dates).answer
    added = {row["student"]: row["added"] for row in answer["members"]}
    assert added == {school.oona.pk: 0, school.noor.pk: 2, school.asha.pk: 2}


def test_with_sydney_too_no_humane_time_exists_and_two_groups_are_proposed(school):
    """Source: TRADE.md 5: all four zones on 3 February cost 8 at best, so the group is split."""
    sydney = cast.make_student("Posy Larkspur", "Australia/Sydney")
    members = [school.oona, school.noor, school.asha, sydney]
    answer = school.solved(members=members).answer
    assert max(answer["meetings"][0]["burdens"].values()) == 8
    assert len(answer["split"]) == 2
    paid = [part["meetings"][0]["burdens"] for part in answer["split"]]
    assert max(max(burdens.values()) for burdens in paid) < 8
    assert sum(len(burdens) for burdens in paid) == 4


def test_adopting_makes_the_meetings_and_books_the_members(school):
    """Two meetings, three bookings each, in one act; an audit row tells who decided."""
    plan = school.solved(last_on="2027-02-10", meetings=2)
    school.decide(adopt_plan, plan)
    assert list(Meeting.objects.order_by("starts_at").values_list("wall_on", flat=True)) == [
        date(2027, 2, 3),
        date(2027, 2, 10),
    ]
    assert Booking.objects.held().count() == 6
    assert Plan.objects.get().state == "ADOPTED"
    assert AuditRow.objects.filter(verb="adopted", thing="plan", actor=school.admin).count() == 1


def test_adopting_a_series_sends_one_readable_email_a_family(school):
    """Three families, two meetings: one email each that tells of both, one bare calendar email a
    meeting; the instructor reads once who is booked, and each meeting is in their calendar.
    """
    school.decide(adopt_plan, school.solved(last_on="2027-02-10", meetings=2))
    sent = OutboxMessage.objects.filter(due_at=DECIDED_AT)
    for student in (school.oona, school.noor, school.asha):
        (told,) = sent.filter(recipient=student.user, method="")
        assert told.title.startswith("Booked: 2 meetings, from Wed 3 February")
        assert told.body.count("You can cancel free of charge until") == 2
        entries = sent.filter(recipient=student.user, method="REQUEST")
        assert [entry.title.partition(":")[0] for entry in entries] == ["For your calendar"] * 2
        assert not any("free of charge" in entry.body for entry in entries)
    (told,) = sent.filter(recipient=school.ilse.user, method="")
    assert told.body.count("Noor Ashgrove, level 4") == 2
    assert sent.filter(recipient=school.ilse.user, method="REQUEST").count() == 2


def test_adopting_one_meeting_sends_each_family_its_invitation(school):
    """One meeting is told by the email that brings it into the calendar."""
    school.decide(adopt_plan, school.solved())
    (email,) = OutboxMessage.objects.filter(due_at=DECIDED_AT, recipient=school.noor.user)
    assert (email.method, email.title.partition(":")[0]) == ("REQUEST", "Booked")


def test_what_a_meeting_costs_is_carried_into_the_next_plan(school):
    """Noor paid 1 in the first plan, so that the second spares them: Kolkata pays."""
    write(
        lambda: publish_term(
            actor=school.admin,
            name="Spring",
            first_on=date(2027, 1, 11),
            last_on=date(2027, 4, 9),
            lessons_promised=12,
            now=ASKED_AT,
        ),
        now=ASKED_AT,
    )
    school.decide(adopt_plan, school.solved())
    assert [(row.student, row.burden) for row in CarriedBurden.objects.filter(burden__gt=0)] == [
        (school.noor, 1)
    ]
    again = school.solved(first_on="2027-02-10", last_on="2027-02-10")
    assert starts_of(again.answer) == ["2027-02-10T14:00:00Z"]


def test_nothing_is_adopted_when_one_start_is_taken_meanwhile(school):
    """The first of two meetings is still free, and neither is made. The conflict is named."""
    plan = school.solved(last_on="2027-02-10", meetings=2)
    write(
        lambda: create_meeting(
            actor=school.admin,
            offering=school.offering,
            instructor=school.ilse,
            starts_at=at("2027-02-10T14:30Z"),
            title="Another class",
            places=4,
            now=ASKED_AT,
        ),
        now=ASKED_AT,
    )
    data = outdated(school, plan)
    assert [(one["starts_at"], one["code"]) for one in data["conflicts"]] == [
        ("2027-02-10T14:00:00Z", "taken")
    ]
    assert Meeting.objects.count() == 1
    assert not Booking.objects.exists()
    plan.refresh_from_db()
    assert plan.state == "READY"


def test_a_new_meeting_is_refused_by_the_rule_before_the_guard_speaks(school):
    """The rule names the instructor; the database's guard, which names nobody, stays unasked."""
    school.decide(adopt_plan, school.solved())
    with pytest.raises(Refused, match="Ilse Quarrow has another meeting then"):
        create_meeting(
            actor=school.admin,
            offering=school.offering,
            instructor=school.ilse,
            starts_at=at("2027-02-03T13:30Z"),
            title="Another class",
            places=4,
            now=ASKED_AT,
        )


def test_a_member_who_has_left_meanwhile_is_named_and_nothing_is_adopted(school):
    """The plan says who cannot be booked any more."""
    plan = school.solved()
    school.asha.is_active = False
    school.asha.save()
    refused("plan-outdated", lambda: school.decide(adopt_plan, plan))
    assert not Meeting.objects.exists()


def test_an_instructor_dismissed_meanwhile_stops_the_plan(school):
    """Their meetings are not made for them."""
    plan = school.solved()
    school.ilse.is_active = False
    school.ilse.save()
    refused("plan-outdated", lambda: school.decide(adopt_plan, plan))


def test_a_plan_is_adopted_once(school):
    """The second admin reads that it is over; with the version they read, that it changed."""
    plan = school.solved()
    version = plan.version
    school.decide(adopt_plan, plan, version=version)
    refused("stale", lambda: school.decide(adopt_plan, plan, version=version))
    refused("already-ended", lambda: school.decide(adopt_plan, plan))
    refused("already-ended", lambda: school.decide(discard_plan, plan))
    assert Meeting.objects.count() == 1


def test_of_two_plans_for_one_hour_the_second_is_refused(school):
    """Two admins ask for the same; the second to adopt is told what stands against it."""
    first, second = school.solved(), school.solved()
    school.decide(adopt_plan, first)
    data = outdated(school, second)
    assert data["conflicts"][0]["code"] == "taken"
    assert Meeting.objects.count() == 1


def test_a_plan_that_is_not_solved_cannot_be_adopted(school):
    """It has nothing to say yet; it can be discarded, and no worker takes it up."""
    plan = school.ask()
    refused("not-yet", lambda: school.decide(adopt_plan, plan))
    school.decide(discard_plan, plan)
    assert solving.solve_plans() == 0


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"students": []}, "invalid"),
        ({"students": [999_999]}, "invalid"),
        ({"instructors": []}, "invalid"),
        ({"offering": 999_999}, "invalid"),
        ({"first_on": "2027-02-04"}, "end-before-start"),
        ({"last_on": "2028-02-04"}, "invalid"),
        ({"first_on": "2026-11-02", "last_on": "2026-12-03"}, "past"),
    ],
)
def test_what_can_never_be_solved_is_refused_at_once(school, more, code):
    """Nobody, nobody who is here, dates that are over: no plan is made."""
    refused(code, lambda: school.ask(**more))
    assert not Plan.objects.exists()
