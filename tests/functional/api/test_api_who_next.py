"""Who is next over HTTP: an instructor for themselves, an admin for any instructor."""

from datetime import timedelta

import pytest

from bookings import solving
from bookings.models import Plan, ProposedTimes
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api, Reply
from tests.functional.api.refusals import refused
from tests.functional.api.school import School

pytestmark = pytest.mark.sql


@pytest.fixture
def due(school: School) -> School:
    """Ilse last saw Noor nine weeks ago, and Posy ten."""
    cast.taught(school.ilse, school.noor, school.consultation, NOW - timedelta(weeks=9))
    cast.taught(school.ilse, school.posy, school.consultation, NOW - timedelta(weeks=10))
    return school


def asks(school: School, api: Api, **inputs: int) -> Reply:
    body = {"kind": "who-next", "inputs": {"offering": school.consultation.pk, **inputs}}
    return api.post("plans/", body)


def solved(reply: Reply) -> str:
    """The address of a plan that has been asked for, once it is solved."""
    assert reply.status == 201, reply.body
    solving.solve_plans()
    return f"plans/{reply.json['id']}/"


def test_an_instructor_asks_for_themselves_and_adopts(due: School) -> None:
    """Both are proposed a time that is held for them."""
    ilse = Api(due.ilse.user)
    address = solved(asks(due, ilse))
    plan = ilse.get(address).json
    assert (plan["standing"], plan["inputs"]["instructor"]) == ("READY", due.ilse.pk)
    assert [row["student"] for row in plan["answer"]["unreached"]] == []
    adopted = ilse.post(f"{address}adopt/", match="*")
    assert (adopted.status, adopted.json["standing"]) == (200, "ADOPTED")
    assert ProposedTimes.objects.unanswered().count() == 2


def test_what_hours_cost_a_family_is_for_admins_alone(due: School) -> None:
    """Source: whose hours are secret to instructors. In the plan, in the list, after an act."""
    ilse, dag = Api(due.ilse.user), Api(due.dag)
    address = solved(asks(due, ilse))
    Plan.objects.update(progress={"stage": "burden", "value": 9, "bound": 9, "seconds": 1})
    told, (listed,) = ilse.get(address).json, ilse.get("plans/").json["results"]
    done = ilse.post(f"{address}discard/", match="*").json
    for seen in (told, listed, done):
        assert set(seen["answer"]) == {"proposals", "unreached"}
        assert seen["progress"] == {"stage": "burden", "seconds": 1}
    assert set(dag.get(address).json["answer"]["burdens"]) == {
        str(due.noor.pk),
        str(due.posy.pk),
    }


def test_an_admin_names_the_instructor(due: School) -> None:
    """The school's own plan: the instructor does not see it."""
    dag = Api(due.dag)
    refused(asks(due, dag), "invalid")
    address = solved(asks(due, dag, instructor=due.ilse.pk))
    assert len(dag.get(address).json["answer"]["proposals"]) == 2
    assert Api(due.ilse.user).get(address).status == 404


def test_nobody_asks_for_another_instructor_s_students(due: School) -> None:
    """Another instructor is as nobody; a student may not ask."""
    refused(asks(due, Api(due.wren.user), instructor=due.ilse.pk), "not-found")
    refused(asks(due, Api(due.noor.user)), "not-allowed")
    address = solved(asks(due, Api(due.ilse.user)))
    assert Api(due.wren.user).get(address).status == 404


def test_a_time_taken_meanwhile_is_named_and_nothing_is_proposed(due: School) -> None:
    """The refusal names the student and the start."""
    ilse = Api(due.ilse.user)
    address = solved(asks(due, ilse))
    (row,) = (
        one
        for one in ilse.get(address).json["answer"]["proposals"]
        if one["student"] == due.noor.pk
    )
    taken = cast.make_meeting(due.consultation, due.ilse, cast.at(row["starts_at"]))
    cast.make_booking(taken, due.marlo)
    reply = ilse.post(f"{address}adopt/", match="*")
    refused(reply, "plan-outdated")
    (conflict,) = reply.json["conflicts"]
    assert (conflict["code"], conflict["detail"].split(":")[0]) == ("taken", "Noor")
    assert not ProposedTimes.objects.exists()
