"""Owed lessons, make-ups and accounts over HTTP: scenarios 20 to 22 of TRADE.md section 8."""

from typing import Any

import pytest
import time_machine

from bookings.models import OutboxMessage
from tests import cast
from tests.cast import at
from tests.functional.api.client import Api, Reply
from tests.functional.api.school import School
from tests.functional.api.weekly import a_week_before_the_term, place

pytestmark = pytest.mark.sql

__all__ = ["a_week_before_the_term", "place"]


@pytest.fixture
def lessons(school: School, place: dict[str, int]) -> list[dict[str, Any]]:
    """The twelve Tuesdays that Noor has taken, as the API shows them."""
    cast.publish(school.ilse, "1 15:30-20:30")
    taken = Api(school.noor.user).post(
        "weekly-places/", {**place, "weekday": "TU", "wall_time": "16:30"}
    )
    assert taken.status == 201, taken.body
    rows: list[dict[str, Any]] = Api(school.noor.user).get("bookings/").json["results"]
    return [row for row in rows if row["offering"]["id"] == place["offering"]]


def account(school: School, place: dict[str, int], as_: Any = None) -> dict[str, Any]:
    reply = Api(as_ or school.noor.user).get(f"terms/{place['term']}/accounts/")
    (found,) = reply.json["results"]
    return dict(found)


def numbers(found: dict[str, Any]) -> dict[str, int]:
    return {name: found[name] for name in found if isinstance(found[name], int) and found[name]}


def test_a_term_promises_its_lessons_and_every_one_is_to_come(
    school: School, place: dict[str, int], lessons: list[dict[str, Any]]
) -> None:
    """Twelve, each with its booking behind it; a stranger reads none, an admin all."""
    found = account(school, place)
    assert numbers(found) == {"promised": 12, "to_come": 12}
    behind = [row["links"][0]["booking"] for row in found["counted_lessons"]]
    assert behind == [row["id"] for row in lessons]
    assert account(school, place, school.dag) == found
    stranger = Api(school.marlo.user).get(f"terms/{place['term']}/accounts/")
    assert stranger.json["results"] == []


def test_a_lesson_cancelled_a_minute_late_is_forfeited_and_in_time_it_is_owed(
    school: School,
    place: dict[str, int],
    lessons: list[dict[str, Any]],
    clock_stands_still: time_machine.Traveller,
) -> None:
    """Scenario 20: 24 elapsed hours, also across the American clock change of 14 March."""
    noor = Api(school.noor.user)
    before, after = lessons[1], next(row for row in lessons if "03-16" in row["starts_at"])
    assert after["cancel_by"] == "2027-03-15T16:30:00Z"
    clock_stands_still.move_to(at("2027-01-18T16:30Z"))
    assert noor.post(f"bookings/{before['id']}/cancel/", match="*").status == 200
    clock_stands_still.move_to(at("2027-03-15T16:31Z"))
    assert noor.post(f"bookings/{after['id']}/cancel/", match="*").status == 200
    (owed,) = noor.get("owed-lessons/?still_owed=true").json["results"]
    assert (owed["booking"], owed["cause"], owed["use_by"]) == (
        before["id"],
        "cancelled-in-time",
        "2027-04-19",
    )
    assert account(school, place)["forfeited"] == 1


def test_an_ill_instructor_calls_off_and_each_lesson_is_owed_without_charge(
    school: School, place: dict[str, int], lessons: list[dict[str, Any]]
) -> None:
    """Scenario 21, the part of what is owed: the family reads it in the same email."""
    meeting = lessons[1]["meeting"]
    off = Api(school.ilse.user).post(
        f"meetings/{meeting}/call-off/", {"reason": "Ilse is ill."}, match="*"
    )
    assert off.status == 200
    found = account(school, place)
    assert numbers(found) == {"promised": 12, "owed": 1, "to_come": 11}
    told = OutboxMessage.objects.filter(recipient=school.noor.user).latest("pk")
    assert "You will not be charged" in told.body
    assert "You are owed this lesson; book it by 19 April 2027 under My lessons." in told.body


def make_up(school: School, place: dict[str, int], owed: int, starts_at: str) -> Reply:
    return Api(school.noor.user).post(
        "bookings/",
        {
            "offering": place["offering"],
            "instructor": place["instructor"],
            "starts_at": starts_at,
            "owed_lesson": owed,
        },
    )


def test_a_make_up_that_is_missed_without_notice_is_closed_and_not_owed_again(
    school: School,
    place: dict[str, int],
    lessons: list[dict[str, Any]],
    clock_stands_still: time_machine.Traveller,
) -> None:
    """Scenario 22: the term still shows twelve promised. The make-up is of the same kind, and by
    its date.
    """
    ilse, noor = Api(school.ilse.user), Api(school.noor.user)
    ilse.post(f"meetings/{lessons[1]['meeting']}/call-off/", {"reason": "Ill."}, match="*")
    (owed,) = noor.get("owed-lessons/").json["results"]
    clock_stands_still.move_to(at("2027-04-10T09:00Z"))
    late = make_up(school, place, owed["id"], "2027-04-27T15:30:00Z")
    assert (late.code, late.json["use_by"]) == ("use-by-passed", "2027-04-19")
    other = {**place, "offering": school.consultation.pk}
    assert make_up(school, other, owed["id"], "2027-04-13T15:30:00Z").code == "wrong-kind"
    made = make_up(school, place, owed["id"], "2027-04-13T15:30:00Z")
    assert (made.status, made.json["makes_up"]) == (201, owed["id"])
    assert make_up(school, place, owed["id"], "2027-04-13T17:30:00Z").code == "owed-settled"
    clock_stands_still.move_to(at("2027-04-13T17:00Z"))
    marks = {"marks": [{"booking": made.json["id"], "attendance": "ABSENT_WITHOUT_NOTICE"}]}
    path = f"meetings/{made.json['meeting']}/register/"
    assert ilse.put(path, marks, match="*").status == 200
    assert noor.get("owed-lessons/?still_owed=true").json["results"] == []
    found = account(school, place)
    assert numbers(found) == {"promised": 12, "forfeited": 1, "unmarked": 11}
    assert [len(row["links"]) for row in found["counted_lessons"]].count(3) == 1


def test_slots_for_a_make_up_end_with_its_use_by_date(
    school: School,
    place: dict[str, int],
    lessons: list[dict[str, Any]],
    clock_stands_still: time_machine.Traveller,
) -> None:
    """To book it, to move it, and nearby where a start is refused; a later one says why."""
    ilse, noor = Api(school.ilse.user), Api(school.noor.user)
    ilse.post(f"meetings/{lessons[1]['meeting']}/call-off/", {"reason": "Ill."}, match="*")
    (owed,) = noor.get("owed-lessons/").json["results"]
    clock_stands_still.move_to(at("2027-04-10T09:00Z"))
    asked = f"slots/?offering={place['offering']}&to=2027-05-10"

    def last(query: str) -> str:
        return str(max(slot["local_start"][:10] for slot in noor.get(query).json["results"]))

    assert last(asked) > "2027-04-19"
    assert last(f"{asked}&owed_lesson={owed['id']}") == "2027-04-19"
    after = noor.get(f"{asked}&from=2027-04-21&owed_lesson={owed['id']}").json
    assert after == {"results": [], "next_from": None}
    made = make_up(school, place, owed["id"], "2027-04-13T15:30:00Z").json
    assert last(f"{asked}&moving={made['id']}") == "2027-04-19"
    move = {"instructor": place["instructor"], "starts_at": "2027-04-27T15:30:00Z"}
    moved = noor.post(f"bookings/{made['id']}/move/", move, match="*")
    assert (moved.code, moved.json["use_by"]) == ("use-by-passed", "2027-04-19")
    odd = {**move, "starts_at": "2027-04-19T15:35:00Z"}
    near = noor.post(f"bookings/{made['id']}/move/", odd, match="*").json["near"]
    assert near and all(slot["local_start"] < "2027-04-20" for slot in near)


def test_a_correction_after_the_make_up_is_booked_names_it(
    school: School,
    place: dict[str, int],
    lessons: list[dict[str, Any]],
    clock_stands_still: time_machine.Traveller,
) -> None:
    """The register cannot say that a lesson was given which has been made up."""
    ilse = Api(school.ilse.user)
    clock_stands_still.move_to(at("2027-01-12T18:00Z"))
    path = f"meetings/{lessons[0]['meeting']}/register/"

    def mark(attendance: str) -> Reply:
        marks = [{"booking": lessons[0]["id"], "attendance": attendance}]
        return ilse.put(path, {"marks": marks}, match="*")

    assert mark("INSTRUCTOR_ABSENT").status == 200
    (owed,) = Api(school.noor.user).get("owed-lessons/").json["results"]
    made = make_up(school, place, owed["id"], "2027-01-19T18:00:00Z")
    refused = mark("PRESENT")
    assert (refused.code, refused.json["booking"]) == ("owed-settled", made.json["id"])


def test_an_admin_decides_about_an_owed_lesson_on_the_version_that_was_read(
    school: School, place: dict[str, int], lessons: list[dict[str, Any]]
) -> None:
    """Extended, then settled; a second settlement and an old version are refused."""
    Api(school.ilse.user).post(
        f"meetings/{lessons[1]['meeting']}/call-off/", {"reason": "Ill."}, match="*"
    )
    dag = Api(school.dag)
    (owed,) = dag.get("owed-lessons/").json["results"]
    path = f"owed-lessons/{owed['id']}/"
    read = dag.get(path)
    later = {"use_by": "2027-06-01", "reason": "A long illness."}
    extended = dag.post(path + "extend/", later, match=read.etag)
    assert extended.json["use_by"] == "2027-06-01"
    assert dag.post(path + "settle/", {"reason": "Refunded."}, match=read.etag).code == "stale"
    settled = dag.post(path + "settle/", {"reason": "Refunded."}, match=extended.etag)
    assert settled.json["closed_how"] == "by-hand"
    again = dag.post(path + "settle/", {"reason": "Refunded."}, match="*")
    assert again.code == "owed-settled"
    assert account(school, place)["carried_out"] == 1
