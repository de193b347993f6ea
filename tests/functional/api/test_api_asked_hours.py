"""A plan of a group asks families for their hours over the API, and they answer."""

from datetime import timedelta

import pytest

from bookings import solving
from bookings.door import write
from bookings.models import Plan
from bookings.operations.asked_hours import close_answers
from tests.functional.api.client import Api
from tests.school.plans import ASKED_AT, PlanningSchool

pytestmark = pytest.mark.django_db

CLOSES, AFTER = "2027-01-25T09:00:00Z", ASKED_AT + timedelta(days=5)
ANYTIME = {
    "wishes": [{"weekday": "WE", "opens": "00:00", "closes": "24:00", "wish": "gladly"}],
    "school": None,
}


@pytest.fixture
def school(monkeypatch):
    """The clock of every call and of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    return PlanningSchool()


def ask(school, **more):
    inputs = {**school.asked(), "answer_by": CLOSES, **more}
    return Api(school.admin).post("plans/", {"kind": "group", "inputs": inputs})


def say(student):
    return Api(student.user).put(f"students/{student.pk}/hours/", ANYTIME, match="*").json


def test_admins_read_how_many_have_answered(school):
    """One and in the list; `inputs` are those of the form without the time to answer."""
    made = ask(school).json
    assert (made["answer_by"], made["closed_at"]) == (CLOSES, None)
    assert (made["members_asked"], made["members_answered"]) == (3, 0)
    say(school.noor)
    dag = Api(school.admin)
    (listed,) = dag.get("plans/").json["results"]
    assert listed == dag.get(f"plans/{made['id']}/").json
    assert (listed["members_asked"], listed["members_answered"]) == (3, 1)
    assert listed["inputs"] == school.asked()


def test_a_family_reads_what_it_is_asked_for_and_that_it_has_answered(school):
    """The answer to its own write says so at once."""
    ask(school)
    path = f"students/{school.noor.pk}/hours/"
    open_one = {"title": "Ornaments", "answer_by": CLOSES, "answered_at": None}
    assert Api(school.noor.user).get(path).json["asked_for"] == [open_one]
    said = say(school.noor)
    assert said["asked_for"] == [{**open_one, "answered_at": "2027-01-20T09:00:00Z"}]


def test_a_late_answer_is_no_answer_and_the_plan_can_be_adopted_then(school, monkeypatch):
    """Before its answers close it is refused as "not-yet"."""
    made, dag = ask(school).json, Api(school.admin)
    solving.solve_plans()
    adopt = f"plans/{made['id']}/adopt/"
    early = dag.post(adopt, match="*")
    assert (early.status, early.code) == (409, "not-yet")
    monkeypatch.setattr("bookings.clock.now", lambda: AFTER)
    (late,) = say(school.noor)["asked_for"]
    assert late["answered_at"] is None
    write(lambda: close_answers(now=AFTER), now=AFTER)
    solving.solve_plans()
    assert dag.post(adopt, match="*").json["standing"] == "ADOPTED"
    assert Api(school.noor.user).get(f"students/{school.noor.pk}/hours/").json["asked_for"] == []


@pytest.mark.parametrize("answer_by", ["2027-01-20T09:00:00Z", "2027-02-03T00:00:00Z", "soon", 5])
def test_a_time_to_answer_that_cannot_be_kept_is_refused_at_its_field(school, answer_by):
    """One that is over, one after the first day, and what is no time."""
    reply = ask(school, answer_by=answer_by)
    assert reply.status in (409, 422)
    assert b"answer_by" in reply.body
    assert not Plan.objects.exists()


def test_no_other_kind_of_plan_asks_for_hours(school):
    """Their forms do not know the field."""
    inputs = {"instructor": school.ilse.pk, "offering": school.offering.pk, "answer_by": CLOSES}
    reply = Api(school.admin).post("plans/", {"kind": "who-next", "inputs": inputs})
    assert reply.status == 422
    assert not Plan.objects.exists()
