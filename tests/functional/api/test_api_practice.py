"""The practice plan over the API: read, ticked, and shown in the brief."""

from datetime import timedelta
from typing import Any

import pytest

from bookings.models import PracticeTick
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.refusals import refused
from tests.functional.api.school import School
from tests.functional.api.world import World, make_world


@pytest.fixture
def world(school: School) -> World:
    return make_world(school)


@pytest.fixture
def noor(world: World) -> Api:
    return Api(world.owner)


def of(world: World, act: str = "") -> str:
    return f"students/{world.learner.pk}/practice/{act}"


def said(world: World, **changes: Any) -> dict[str, Any]:
    return {"plan": world.released.pk, "item": 0, "on": "2027-03-01", **changes}


def test_a_tick_shows_in_the_plan_and_in_the_days(world: World, noor: Api) -> None:
    """Ticked twice, it counts once; taken back twice, it is gone."""
    for _ in range(2):
        reply = noor.post(of(world, "tick/"), said(world))
        assert (reply.status, reply.json) == (200, said(world))
    shown = noor.get(of(world)).json
    assert (shown["plan"], shown["today"], shown["minutes"]) == (
        world.released.pk,
        "2027-03-01",
        20,
    )
    assert shown["items"][0]["ticked_days"] == ["2027-03-01"]
    assert shown["tickable_days"] == ["2027-03-01", "2027-02-28"]
    assert len(shown["days"]) == 14
    assert shown["days"][-1] == {"on": "2027-03-01", "minutes": 20}
    for _ in range(2):
        assert noor.post(of(world, "untick/"), said(world)).status == 200
    assert noor.get(of(world)).json["items"][0]["ticked_days"] == []


def test_each_refusal_says_what_to_do(world: World, noor: Api) -> None:
    """A day too old, a day ahead, an item the plan has not, and a plan that a newer one follows."""
    refused(noor.post(of(world, "tick/"), said(world, on="2027-02-27")), "past")
    refused(noor.post(of(world, "tick/"), said(world, on="2027-03-02")), "not-yet")
    problem = refused(noor.post(of(world, "tick/"), said(world, item=1)), "not-found")
    assert problem["detail"] == "The practice plan has no such item."
    world.school.released(world.learner, world.school.wren, practice=world.released.practice)
    newer = refused(noor.post(of(world, "tick/"), said(world)), "newer-assessment")
    assert newer["detail"] == "There is a newer practice plan. Open it and tick there."
    assert not PracticeTick.objects.exists()


def test_the_same_key_gives_the_same_answer(world: World, noor: Api) -> None:
    """A retry is answered with the first answer's bytes, and no text of a plan is stored."""
    first, again = (
        noor.post(of(world, "tick/"), said(world), key="once", match=None) for _ in range(2)
    )
    assert (first.body, again.status) == (again.body, 200)


def test_a_student_without_a_plan_reads_an_empty_one(school: School) -> None:
    """Null and empty lists, and fourteen days without a minute."""
    shown = Api(school.noor.user).get(f"students/{school.noor.pk}/practice/").json
    assert (shown["plan"], shown["minutes"], shown["items"]) == (None, 0, [])
    assert shown["tickable_days"] == []
    assert {day["minutes"] for day in shown["days"]} == {0}


def test_a_newer_note_without_a_plan_is_named(world: World, noor: Api) -> None:
    """The plan still counts for ticks; the newer assessment counts for the next step."""
    assert noor.get(of(world)).json["newer"] is None
    newer = world.school.released(world.learner, world.school.wren, next_steps=["Slower."])
    shown = noor.get(of(world)).json
    assert (shown["plan"], shown["newer"]) == (world.released.pk, newer.pk)
    assert noor.post(of(world, "tick/"), said(world)).status == 200


def test_the_brief_holds_the_days_practised(world: World, noor: Api) -> None:
    """The instructor of the meeting reads the days with the note, and no days without one."""
    noor.post(of(world, "tick/"), said(world, on="2027-02-28"))
    ilse = Api(world.school.ilse.user)
    days = ilse.get(f"bookings/{world.booking.pk}/brief/").json["practised"]
    assert days[-2:] == [{"on": "2027-02-28", "minutes": 20}, {"on": "2027-03-01", "minutes": 0}]
    other = cast.make_meeting(
        world.school.consultation, world.school.ilse, NOW + timedelta(days=15)
    )
    marlos = cast.make_booking(other, world.school.marlo)
    assert ilse.get(f"bookings/{marlos.pk}/brief/").json["practised"] is None


def test_a_guardian_ticks_for_a_child_on_the_child_s_clock(school: School) -> None:
    """At 20:00 on 1 March in Sydney the guardian reads and ticks; their own clock is not asked."""
    plan = school.released(
        school.posy, school.ilse, practice=[{"what": "Airs", "minutes": 10, "is_review": False}]
    )
    hedda, path = Api(school.hedda), f"students/{school.posy.pk}/practice/"
    told = {"plan": plan.pk, "item": 0, "on": hedda.get(path).json["today"]}
    assert hedda.post(path + "tick/", told).status == 200
    assert hedda.get(path).json["days"][-1]["minutes"] == 10
