"""Offerings and the studio policy over HTTP, as whoever builds on it makes and changes them."""

import pytest

from bookings.models import Offering, StudioPolicy
from tests.functional.api.client import Api
from tests.functional.api.school import School

pytestmark = pytest.mark.sql

TALK = {"name": "Harp talk", "kind": "consultation", "minutes": 30}


def test_an_offering_is_made_closed_and_read_again(school: School) -> None:
    """Made open with the usual grid; once closed it is in no list, and still at its address."""
    dag = Api(school.dag)
    made = dag.post("offerings/", TALK)
    shown = {name: made.json[name] for name in ("grid", "step_minutes", "own_changeover_minutes")}
    assert shown == {"grid": "clock", "step_minutes": 0, "own_changeover_minutes": None}
    assert (made.json["changeover_minutes"], made.json["instructors"]) == (5, [])
    path = f"offerings/{made.json['id']}/"
    changed = dag.patch(path, {"is_open": False, "own_changeover_minutes": 20}, match=made.etag)
    assert (changed.json["changeover_minutes"], changed.json["is_open"]) == (20, False)
    names = {row["name"] for row in Api(school.noor.user).get("offerings/").json["results"]}
    assert "Harp talk" not in names
    assert Api(school.noor.user).get(path).json == changed.json
    assert dag.patch(path, {"name": "Talk"}, match=made.etag).code == "stale"


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"minutes": 31}, "#/minutes"),
        ({"grid": "packed", "step_minutes": 30}, "#/step_minutes"),
        ({"own_changeover_minutes": 7}, "#/own_changeover_minutes"),
        ({"kind": "chat"}, "#/kind"),
    ],
)
def test_what_cannot_be_an_offering_is_refused_at_its_member(
    school: School, change: dict[str, object], pointer: str
) -> None:
    """By the name under which it was sent."""
    before = Offering.objects.count()
    reply = Api(school.dag).post("offerings/", {**TALK, **change})
    assert reply.status == 422
    assert [error["pointer"] for error in reply.json["errors"]] == [pointer]
    assert Offering.objects.count() == before


def test_what_has_been_booked_keeps_its_kind_and_length(school: School) -> None:
    """A taken name is refused too."""
    school.booked()
    dag, path = Api(school.dag), f"offerings/{school.consultation.pk}/"
    assert dag.patch(path, {"minutes": 90}, match="*").code == "has-bookings"
    assert dag.post("offerings/", {**TALK, "name": school.group.name}).code == "invalid"


def test_a_policy_is_added_to_the_versions_that_were_read(school: School) -> None:
    """Rules that are not named stay; what was read before is stale afterwards."""
    dag = Api(school.dag)
    read = dag.get("policies/")
    sent = {"notice_minutes": 2880, "minor_closes": "20:00"}
    made = dag.post("policies/", sent, match=read.etag)
    assert made.status == 201
    shown = {name: made.json[name] for name in ("version", "notice_minutes", "minor_closes")}
    assert shown == {"version": 2, "notice_minutes": 2880, "minor_closes": "20:00"}
    assert made.json["horizon_days"] == read.json["results"][0]["horizon_days"]
    assert dag.post("policies/", {}, match=read.etag).code == "stale"
    assert dag.post("policies/", {"horizon_days": 5}).code == "version-needed"
    assert StudioPolicy.objects.count() == 2


def test_what_is_booked_and_would_not_be_allowed_is_told(school: School) -> None:
    """In the sentences of the page; it stays booked."""
    school.booked()
    made = Api(school.dag).post("policies/", {"horizon_days": 1}, match="*")
    assert made.json["not_allowed"] == ["1 place ahead is beyond the new horizon."]


def test_the_first_policy_begins_with_the_usual_rules(school: School) -> None:
    """A school that has none yet may make an offering, too."""
    StudioPolicy.objects.all().delete()
    dag = Api(school.dag)
    assert dag.post("offerings/", TALK).status == 201
    read = dag.get("policies/")
    assert read.json["results"] == []
    made = dag.post("policies/", {}, match=read.etag)
    assert (made.json["version"], made.json["notice_minutes"]) == (1, 1440)
