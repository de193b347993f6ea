"""A term's timetable: read, solved, adopted as weekly places made, moved and kept together."""

import pytest

from bookings import solving
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.door import write
from bookings.models import Booking, OutboxMessage, Plan, WeeklyPlace
from bookings.operations import plans
from bookings.operations.weekly import leave_weekly_place
from tests import cast
from tests.school.weekly import HALF_PAST_FOUR, NOW, TUESDAY, School

pytestmark = pytest.mark.django_db


class Timetable(School):
    """Three students from Dublin, each 45 minutes with Ilse on Tuesdays."""

    def __init__(self) -> None:
        super().__init__()
        self.three = [
            cast.make_student(name, "Europe/Dublin")
            for name in ("Oona Brack", "Juno Petrel", "Otis Fenwick")
        ]

    def solved(self, students=None, **more) -> Plan:
        asked = {
            "term": self.term.pk,
            "offering": self.lesson.pk,
            "instructors": [self.ilse.pk],
            "students": [one.pk for one in (self.three if students is None else students)],
            "seconds": 60,
            **more,
        }
        ask = plans.ask_for_plan
        plan = write(
            lambda: ask(actor=self.dag, kind=PlanKind.TIMETABLE, asked=asked, now=NOW), now=NOW
        )
        solving.solve_plans()
        plan.refresh_from_db()
        return plan

    def adopt(self, plan: Plan) -> Plan:
        return write(lambda: plans.adopt_plan(actor=self.dag, plan=plan, now=NOW), now=NOW)


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at NOW."""
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    return Timetable()


def times(students):
    """The wall time of each student's weekly place, as minutes of the day."""
    rows = WeeklyPlace.objects.not_ended().filter(student__in=students)
    return dict(rows.values_list("student", "wall_at"))


def test_everybody_gets_a_place_that_holds_every_date(school):
    """Three students, three times on the clock grid, twelve lessons each; one email a family."""
    plan = school.solved()
    assert (plan.state, plan.gap, plan.answer["unplaced"]) == ("READY", 0, [])
    school.adopt(plan)
    first, second, third = sorted(times(school.three).values())
    assert second - first >= 55 and third - second >= 55  # 45 minutes and 10 of changeover
    assert Booking.objects.held().count() == 36
    for student in school.three:
        told = OutboxMessage.objects.filter(recipient=student.user, kind="told")
        assert told.count() == 1
        assert "give the place up under My lessons" in told.get().body
    assert OutboxMessage.objects.filter(recipient=school.ilse.user, kind="told").count() == 1


def test_a_place_that_is_held_is_kept(school):
    """Marlo has 16:30 already, and the plan leaves it where it is: nothing is written for it."""
    place = school.take()
    plan = school.solved([school.marlo, *school.three])
    school.adopt(plan)
    place.refresh_from_db()
    assert place.ended_at is None
    assert WeeklyPlace.objects.count() == 4


def test_places_swap_in_one_act_where_an_admin_fixes_it(school):
    """Marlo moves to 17:30, where Oona is, and Oona goes elsewhere; nobody has two lessons."""
    school.take()
    oona = school.three[0]
    school.take(student=oona, wall_at=17 * 60 + 30)
    fixed = [
        {
            "student": school.marlo.pk,
            "instructor": school.ilse.pk,
            "weekday": TUESDAY,
            "wall_at": 17 * 60 + 30,
        },
        {
            "student": oona.pk,
            "instructor": school.ilse.pk,
            "weekday": TUESDAY,
            "wall_at": HALF_PAST_FOUR,
        },
    ]
    school.adopt(school.solved([school.marlo, oona], fixed=fixed))
    assert times([school.marlo, oona]) == {school.marlo.pk: 1050, oona.pk: HALF_PAST_FOUR}
    assert Booking.objects.held().count() == 24


def test_whoever_gets_no_place_is_told_why_and_what_would_change_it(school):
    """Five hours hold five lessons of 45 minutes on the clock grid: one of six is left out, and
    the cheapest change is named.
    """
    six = [
        *school.three,
        cast.make_student("Wim Arden", "Europe/Dublin"),
        cast.make_student("Ida Quince", "Europe/Dublin"),
        cast.make_student("Hal Tarn", "Europe/Dublin"),
    ]
    plan = school.solved(six)
    assert len(plan.answer["placed"]) == 5
    (left_out,) = plan.answer["unplaced"]
    assert left_out["why"] == "taken"
    assert left_out["change"]["needs"]


def test_a_dear_hour_needs_the_family_s_consent(school):
    """For a student in Tokyo every Tuesday from 15:30 in Dublin is night."""
    rei = cast.make_student("Rei Kuzumori", "Asia/Tokyo")
    assert school.solved([rei]).answer["placed"] == []
    placed = school.solved([rei], consents=[rei.pk]).answer["placed"]
    assert [row["student"] for row in placed] == [rei.pk]


def test_nothing_is_adopted_when_one_date_is_taken_meanwhile(school):
    """All places or none; the date that is gone is named with its student."""
    plan = school.solved()
    school.take()  # Marlo takes 16:30
    with pytest.raises(Refused) as caught:
        school.adopt(plan)
    assert caught.value.code == "plan-outdated"
    assert [one["code"] for one in caught.value.data["conflicts"]] == ["term-dates"]
    assert WeeklyPlace.objects.count() == 1


def test_a_place_given_up_meanwhile_is_taken_anew(school):
    """Marlo's place was to be kept; Marlo has left it, so adopting gives it back."""
    place = school.take()
    plan = school.solved([school.marlo])
    write(lambda: leave_weekly_place(actor=school.marlo.user, place=place, now=NOW), now=NOW)
    school.adopt(plan)
    assert times([school.marlo]) == {school.marlo.pk: HALF_PAST_FOUR}


@pytest.mark.parametrize(
    "more",
    [{"term": 999_999}, {"offering": 999_999}, {"instructors": []}, {"students": []}],
)
def test_what_is_not_here_is_refused_at_once(school, more):
    """No plan is made."""
    with pytest.raises(Refused) as caught:
        school.solved(**more)
    assert caught.value.code == "invalid"
