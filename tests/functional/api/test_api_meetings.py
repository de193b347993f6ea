"""Group meetings over the API: places, waiting, the roster, the register and calling off."""

from datetime import timedelta

import time_machine

from bookings.models import Booking, Mark
from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.noor import noor
from tests.functional.api.school import FRIDAY, School

__all__ = ["noor"]


def test_a_group_fills_waits_and_passes_a_place_on(school: School, noor: Api) -> None:
    """Two places, a third who waits, a place given back, an offer accepted: counted right at each
    step.
    """
    dag, marlo, hedda = Api(school.dag), Api(school.marlo.user), Api(school.hedda)
    asked = {
        "offering": school.group.pk,
        "instructor": school.ilse.pk,
        "title": "Chords",
        "places": 1,
    }
    made = dag.post("meetings/", {**asked, "starts_at": "2027-03-10T09:00:00Z"})
    path = made.headers["Location"]
    booked = noor.post("bookings/", {"meeting": made.json["id"]})
    assert marlo.post("bookings/", {"meeting": made.json["id"]}).code == "no-place"
    assert [who.post(path + "waiting-list/", {}).json["rank"] for who in (marlo, hedda)] == [
        1,
        2,
    ]
    assert marlo.delete(path + "waiting-list/").status == 204
    noor.post(booked.headers["Location"] + "cancel/", match=booked.etag)
    (offer,) = hedda.get("offers/").json["results"]
    assert (offer["standing"], offer["student"]["name"]) == ("OFFERED", "Posy Lindqvist-Reed")
    assert hedda.get(f"bookings/{offer['id']}/invitation.ics").code == "not-yet"
    assert hedda.post(f"offers/{offer['id']}/accept/").json["standing"] == "HELD"
    (place,) = dag.get(path + "roster/").json["results"]
    assert place["student"]["name"] == "Posy Lindqvist-Reed"
    assert dag.get(path).json["taken"] == 1


def test_an_offer_declined_goes_to_the_next(school: School, noor: Api) -> None:
    """No is an answer too: the next in line has the offer at once."""
    meeting = school.class_on(places=1)
    cast.make_booking(meeting, school.noor)
    for student in (school.marlo, cast.make_student("Imogen Sorrel")):
        Api(student.user).post(f"meetings/{meeting.pk}/waiting-list/", {})
    noor.post(f"bookings/{Booking.objects.get().pk}/cancel/", match="*")
    offer = Booking.objects.get(standing="OFFERED")
    assert offer.student == school.marlo
    assert (
        Api(school.marlo.user).post(f"offers/{offer.pk}/decline/").json["ended_reason"]
        == "declined"
    )
    assert Booking.objects.get(standing="OFFERED").student.first_name == "Imogen"


def test_a_place_moves_to_another_meeting(school: School, noor: Api) -> None:
    """Leaving one meeting and joining another is one step: a full one changes nothing."""
    first, second, full = (
        school.class_on(starts_at=FRIDAY + timedelta(days=days)) for days in (4, 5, 6)
    )
    for student in (school.marlo, cast.make_student("Imogen Sorrel")):
        cast.make_booking(full, student)
    booked = noor.post("bookings/", {"meeting": first.pk})
    path = booked.headers["Location"]
    assert noor.post(path + "move/", {"meeting": full.pk}, match=booked.etag).code == "no-place"
    moved = noor.post(path + "move/", {"meeting": second.pk}, match=booked.etag)
    assert (moved.json["meeting"], moved.json["standing"]) == (second.pk, "HELD")
    assert noor.get(path).json["ended_reason"] in {"moved", "cancelled-in-time"}


def test_an_admin_keeps_the_roster_with_reasons(school: School) -> None:
    """Adding and removing say why; the instructor reads the roster and changes nothing on it."""
    meeting, dag, ilse = school.class_on(), Api(school.dag), Api(school.ilse.user)
    added = dag.post(
        f"meetings/{meeting.pk}/roster/",
        {"student": school.marlo.pk, "reason": "Asked by telephone"},
    )
    assert added.status == 201
    assert len(ilse.get(f"meetings/{meeting.pk}/roster/").json["results"]) == 1
    assert (
        ilse.post(
            f"meetings/{meeting.pk}/roster/", {"student": school.noor.pk, "reason": "Mine"}
        ).code
        == "not-allowed"
    )
    assert (
        dag.delete(
            f"meetings/{meeting.pk}/roster/",
            {"student": school.marlo.pk, "reason": "Ill"},
            match="*",
        ).status
        == 204
    )
    assert Booking.objects.get().ended_why == "removed"


def test_an_instructor_changes_marks_and_calls_off(
    school: School, clock_stands_still: time_machine.Traveller
) -> None:
    """Their own group meeting: made, changed, its register marked once it has begun; another is
    called off with a reason.
    """
    ilse = Api(school.ilse.user)
    body = {
        "offering": school.group.pk,
        "starts_at": "2027-03-10T18:00",
        "time_zone": "Europe/Dublin",
        "title": "Ornaments",
        "places": 5,
    }
    made = ilse.post("meetings/", body)
    assert (made.status, made.json["starts_at"]) == (201, "2027-03-10T18:00:00Z")
    path = made.headers["Location"]
    booked = Api(school.noor.user).post("bookings/", {"meeting": made.json["id"]})
    changed = ilse.patch(
        path, {"places": 8, "starts_at": "2027-03-11T18:00:00Z"}, match=ilse.etag(path)
    )
    assert (changed.json["places"], changed.json["starts_at"]) == (8, "2027-03-11T18:00:00Z")
    marks = {"marks": [{"booking": booked.json["id"], "attendance": "LATE"}]}
    assert ilse.put(path + "register/", marks, match=changed.etag).code == "not-yet"
    clock_stands_still.move_to(cast.at("2027-03-11T18:10:00Z"))
    marked = ilse.put(path + "register/", marks, match=ilse.etag(path))
    assert (marked.json["results"][0]["attendance"], Mark.objects.get().attendance) == (
        "LATE",
        "LATE",
    )
    assert ilse.post(path + "call-off/", {"reason": "Too late for that"}, match="*").code == "past"
    other = school.class_on(starts_at=FRIDAY + timedelta(days=20))
    assert (
        ilse.post(f"meetings/{other.pk}/call-off/", {"reason": "A broken string"}, match="*").json[
            "status"
        ]
        == "CANCELLED"
    )
