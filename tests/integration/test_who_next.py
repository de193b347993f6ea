"""Who is next: due students are given an instructor's free times, and adopting proposes them."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.models import Booking, Meeting, OutboxMessage, ProposedTimes
from bookings.queries.planning.who_next import (
    ASKED_ALREADY,
    NO_CONSENT,
    OTHER_LEVEL,
    read_who_next,
)
from tests import cast
from tests.cast import NOW, at
from tests.integration.nothing_written import refused
from tests.school.who_next import WaitingSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at NOW: Monday 1 March 2027."""
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    return WaitingSchool()


def starts_of(plan):
    return {row["student"]: row["starts_at"] for row in plan.answer["proposals"]}


def why_of(plan):
    return {row["student"]: row["why"] for row in plan.answer["unreached"]}


def test_everybody_who_is_due_gets_a_time_of_the_next_two_weeks(school):
    """Three students and four free times, of which no two are the same."""
    plan = school.solved()
    starts = starts_of(plan)
    assert set(starts) == {school.noor.pk, school.kit.pk, school.lark.pk}
    assert len(set(starts.values())) == 3
    last = NOW + timedelta(days=14)
    assert all(NOW < at(start) < last for start in starts.values())
    assert (plan.answer["unreached"], plan.gap) == ([], 0)


def test_each_row_says_why_the_student_is_due(school):
    """As the list of those due a review says it."""
    row = school.solved().answer["proposals"][0]
    assert row["due"] == ["Not seen for 9 weeks."]


def test_whoever_is_not_due_is_not_asked(school):
    """Seen last week: no time is spent on them."""
    marlo = cast.make_student("Marlo Vance")
    school.seen(marlo, timedelta(weeks=1))
    plan = school.solved()
    assert marlo.pk not in starts_of(plan) | why_of(plan)


def test_the_longest_unseen_come_first_where_times_are_few(school):
    """Seven students are due and four times are free: the three seen last go without."""
    weeks = {}
    for number, name in enumerate(("Asha", "Marlo", "Oona", "Tamsin")):
        student = cast.make_student(f"{name} Merrow", "Europe/Dublin")
        weeks[student.pk] = 20 + number
        school.seen(student, timedelta(weeks=20 + number))
    plan = school.solved()
    assert set(starts_of(plan)) == set(weeks)
    assert set(why_of(plan)) == {school.noor.pk, school.kit.pk, school.lark.pk}


def test_who_cannot_be_proposed_a_time_is_named_with_the_reason(school):
    """Another level, no consent, and times that are proposed already."""
    school.kit.guardianships.update(consent_at=None, consent_wording="")
    school.consultation.taught_by.update(lowest_level=3)
    third = cast.make_minor("Fenn Thorne", "Europe/Dublin", guardian=school.orsola, consent=False)
    third.level = 4
    third.save()
    school.seen(third)
    school.adopt(school.solved())
    plan = school.solved()
    assert why_of(plan) == {
        school.kit.pk: OTHER_LEVEL,
        third.pk: NO_CONSENT,
        school.noor.pk: ASKED_ALREADY,
        school.lark.pk: ASKED_ALREADY,
    }


def test_hours_that_a_family_never_comes_are_not_proposed(school):
    """Busy on both Tuesdays: the reason tells no hour."""
    for day in (2, 9):
        other = cast.make_instructor(f"Wren Halloway {day}")
        start = at(f"2027-03-{day:02}T15:30Z")
        other_meeting = cast.make_meeting(
            cast.make_offering(f"Long {day}", minutes=120), other, start
        )
        cast.make_booking(other_meeting, school.noor)
    assert why_of(school.solved())[school.noor.pk] == "No free time suits this student."


def test_adopting_holds_one_time_for_each_until_they_answer(school):
    """The seconds and thirds are named in the plan and not held."""
    plan = school.solved()
    assert any(row["others"] for row in plan.answer["proposals"])
    school.adopt(plan)
    held = Booking.objects.proposed()
    assert {row.student_id: row.starts_at for row in held} == {
        pk: at(start) for pk, start in starts_of(plan).items()
    }
    assert ProposedTimes.objects.unanswered().count() == 3


def test_a_family_with_two_children_gets_one_email(school):
    """It names both children and has a link to answer for each."""
    school.adopt(school.solved())
    (told,) = OutboxMessage.objects.filter(recipient=school.orsola)
    assert told.title.startswith("Times proposed for Kit and Lark: please answer by")
    for proposal in ProposedTimes.objects.filter(student__in=[school.kit, school.lark]):
        assert f"/proposed-times/{proposal.pk}/" in told.body
    (own,) = OutboxMessage.objects.filter(recipient=school.noor.user)
    assert "proposes this time to you" in own.body


def test_nothing_is_proposed_when_one_time_is_taken_meanwhile(school):
    """The conflict names the student; the other two times stay free."""
    plan = school.solved()
    taken = at(starts_of(plan)[school.noor.pk])
    marlo = cast.make_student("Marlo Vance")
    cast.make_booking(cast.make_meeting(school.consultation, school.ilse, taken), marlo)
    before = Meeting.objects.count()
    with pytest.raises(Refused) as caught:
        school.adopt(plan)
    assert caught.value.code == "plan-outdated"
    (conflict,) = caught.value.data["conflicts"]
    assert (conflict["code"], conflict["detail"].split(":")[0]) == ("taken", "Noor")
    assert (Meeting.objects.count(), ProposedTimes.objects.count()) == (before, 0)


def test_a_student_who_left_meanwhile_is_a_conflict(school):
    """Nobody else is proposed a time either."""
    plan = school.solved()
    school.lark.is_active = False
    school.lark.save()
    refused("plan-outdated", lambda: school.adopt(plan))
    assert not ProposedTimes.objects.exists()


def test_nobody_due_is_an_answer(school):
    """A plan without a row, which is proven."""
    Booking.objects.all().delete()
    plan = school.solved()
    assert (plan.state, plan.gap, plan.answer["proposals"]) == ("READY", 0, [])


@pytest.mark.parametrize("more", [{"instructor": 999_999}, {"offering": 999_999}])
def test_what_can_never_be_solved_is_refused_at_once(school, more):
    """Nobody who teaches here, or what they do not teach."""
    refused("invalid", lambda: school.ask(**more))


def test_a_plan_reads_as_many_queries_for_many_students(school, django_assert_max_num_queries):
    """Sixty more who are due add none."""
    for number in range(60):
        school.seen(cast.make_student(f"Student {number}"), timedelta(weeks=8))
    with django_assert_max_num_queries(19):
        read_who_next({"instructor": school.ilse.pk, "offering": school.consultation.pk}, now=NOW)
