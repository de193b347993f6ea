"""A group meeting with a minimum to run, on its pages: set, read on one's own clock, decided."""

import re
from datetime import timedelta
from typing import Any

import pytest

from bookings import tasks
from bookings.models import Booking, Meeting, OutboxMessage
from tests import cast
from tests.cast import at, make_booking
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

TYPED = {"minimum": "3", "decide_on": "2027-03-12", "decide_at": "18:00"}
UNCERTAIN = "Runs with at least 3 players; decided by "


@pytest.fixture
def circle(school: School) -> Meeting:
    """Four places on Saturday 13 March, 16:00 in Dublin; three players by Friday 18:00."""
    circle = school.circle
    circle.places, circle.minimum, circle.status = 4, 3, "TENTATIVE"
    circle.decide_by = at("2027-03-12T18:00Z")
    circle.save()
    return circle


def version_on(page: str) -> str:
    return re.findall(r'name="version" value="(\d+)"', page)[0]


def test_a_meeting_is_added_with_a_minimum(school: School) -> None:
    """18:00 is the instructor's clock; the three fields come together."""
    cast.publish(school.wren, cast.DAY_AND_NIGHT)
    asked: dict[str, Any] = {
        "offering": school.group.pk,
        "instructor": school.wren.pk,
        "title": "Chords",
        "on": "2027-03-13",
        "at": "20:00",
        "places": 4,
    }
    dag = as_user(school.dag)
    half = dag.post("/meetings/new/", {**asked, "minimum": "3"})
    assert half.status_code == 422
    assert "Give the minimum, the day and the time together." in text_of(half)
    assert dag.post("/meetings/new/", {**asked, **TYPED, "minimum": "5"}).status_code == 422
    assert dag.post("/meetings/new/", {**asked, **TYPED}).status_code == 302
    made = Meeting.objects.get(title="Chords")
    assert (made.minimum, made.decide_by) == (3, at("2027-03-12T23:00Z"))
    assert made.is_undecided


def test_a_minimum_is_set_until_somebody_has_booked(school: School) -> None:
    """The page keeps what was typed; a meeting booked as certain stays certain."""
    school.circle.places = 4
    school.circle.save()
    ilse, address = as_user(school.ilse.user), f"/meetings/{school.circle.pk}/"
    assert address + "minimum/" in text_of(ilse.get(address))
    page = text_of(ilse.get(address + "minimum/"))
    assert "On the clock of Dublin." in page
    late = ilse.post(address + "minimum/", {**TYPED, "decide_on": "2027-03-13"})
    assert late.status_code == 422
    assert 'value="2027-03-13"' in text_of(late)
    assert ilse.post(address + "minimum/", {**TYPED, "version": "9"}).status_code == 412
    typed = {**TYPED, "version": version_on(page)}
    assert ilse.post(address + "minimum/", typed).status_code == 302
    school.circle.refresh_from_db()
    assert school.circle.decide_by == at("2027-03-12T18:00Z")
    assert 'value="18:00"' in text_of(ilse.get(address + "minimum/"))
    certain = school.called_off()
    certain.status = "CONFIRMED"
    certain.save()
    make_booking(certain, school.noor)
    assert "/minimum/" not in text_of(ilse.get(f"/meetings/{certain.pk}/"))
    assert ilse.post(f"/meetings/{certain.pk}/minimum/", TYPED).status_code == 409


def test_a_family_reads_on_its_own_clock_that_it_is_not_certain(
    school: School, circle: Meeting
) -> None:
    """Before it joins, and afterwards."""
    noor = as_user(school.noor.user)
    for address in ("/meetings/", f"/meetings/{circle.pk}/"):
        assert f"{UNCERTAIN}<time" in text_of(noor.get(address))
    make_booking(circle, school.noor)
    lessons = text_of(noor.get("/my-lessons/"))
    assert "Friday 12 March, 13:00</time> (New York)." in lessons
    assert "It runs anyway" not in lessons + text_of(noor.get(f"/meetings/{circle.pk}/"))


def test_who_is_offered_a_place_reads_it_before_they_answer(
    school: School, circle: Meeting
) -> None:
    """The offer is answered with open eyes."""
    waits = circle.waiting.create(student=school.noor, joined_at=at("2027-03-01T08:00Z"))
    offer = {"standing": "OFFERED", "answer_by": at("2027-03-02T18:00Z"), "waiting_place": waits}
    booking = make_booking(circle, school.noor, **offer)
    noor = as_user(school.noor.user)
    assert UNCERTAIN in text_of(noor.get("/my-lessons/"))
    (answer,) = re.findall(
        r'href="(/my-lessons/\d+/[a-z]+/)">Say yes', text_of(noor.get("/my-lessons/"))
    )
    assert UNCERTAIN in text_of(noor.get(answer))
    assert booking.pk


def test_an_admin_says_on_the_roster_that_it_runs(school: School, circle: Meeting) -> None:
    """Bound to what was shown; the instructor reads it and has no such button."""
    make_booking(circle, school.noor)
    dag, address = as_user(school.dag), f"/meetings/{circle.pk}/"
    ilse = text_of(as_user(school.ilse.user).get(address))
    assert UNCERTAIN in ilse
    assert "It runs anyway" not in ilse
    page = text_of(dag.get(address))
    assert "So far 1 player has a place." in page
    assert dag.post(address + "it-runs/", {"version": "9"}).status_code == 412
    assert dag.post(address + "it-runs/", {"version": version_on(page)}).status_code == 302
    page = text_of(dag.get(address))
    assert UNCERTAIN not in page
    assert OutboxMessage.objects.filter(title__startswith="It runs: ").count() == 2
    again = dag.post(address + "it-runs/")
    assert (again.status_code, "This meeting is certain already." in text_of(again)) == (409, True)


def test_called_off_for_too_few_it_stands_with_its_reason(
    school: School, circle: Meeting, hands: Hands
) -> None:
    """What the family reads under My lessons afterwards."""
    make_booking(circle, school.noor)
    hands.at = at("2027-03-12T18:00Z") + timedelta(seconds=20)
    tasks.enqueue_due()
    lessons = text_of(as_user(school.noor.user).get("/my-lessons/"))
    assert "called off. Too few players had a place by the time to decide." in lessons
    assert Booking.objects.get(meeting=circle).ended_why == "called-off"


def test_those_who_run_it_see_at_a_glance_that_it_is_not_certain(
    school: School, circle: Meeting
) -> None:
    """Among all meetings, and on the instructor's day."""
    assert "Not certain yet" in text_of(as_user(school.dag).get("/meetings/"))
    ilse = as_user(school.ilse.user)
    assert "Not certain yet." in text_of(ilse.get("/today/?on=2027-03-13"))
    circle.status = "CONFIRMED"
    circle.save()
    assert "Not certain yet" not in text_of(ilse.get("/today/?on=2027-03-13"))
