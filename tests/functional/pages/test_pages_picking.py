"""A person picked by typing, wherever an admin's form asks for one; without JavaScript."""

import re

import pytest
from django.test import Client

from accounts.models import Student
from bookings.models import Meeting
from tests.cast import EVERY_DAY, make_instructor, make_student, publish, teaches
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql

NEW = "/meetings/new/"


def meeting(school: School, **typed: object) -> dict[str, object]:
    """A new meeting as typed."""
    return {
        "offering": school.group.pk,
        "title": "Slow airs",
        "on": "2027-03-19",
        "at": "16:00",
        "places": 4,
        "listener_places": 0,
        **typed,
    }


def boxes(page: str, name: str) -> list[str]:
    """The labels of those who can be ticked."""
    return re.findall(rf'name="{name}-ticked" value="\d+"> ([^<]+)<', page)


@pytest.mark.parametrize(
    "typed",
    [
        "Ilse Quarrow",
        "ilse quarrow",
        "quar",
        "  quarrow ilse ",
        "ilse@rowanmere.example",
        "Ilse Quarrow, ilse@rowanmere.example",
    ],
)
def test_one_who_matches_is_taken(school: School, typed: str) -> None:
    """By a name in part or whole, an address, or what the suggestions say."""
    answer = as_user(school.dag).post(NEW, meeting(school, instructor=typed))
    assert answer.status_code == 302, text_of(answer)
    assert Meeting.objects.latest("pk").instructor == school.ilse


def test_several_who_match_are_listed_and_one_is_ticked(school: School) -> None:
    """What was typed stays; a tick counts only for the words it was shown for."""
    other = make_instructor("Ilse Quarrow", email="ilse.q@rowanmere.example")
    teaches(other, school.group)
    publish(other, EVERY_DAY)
    dag = as_user(school.dag)
    answer = dag.post(NEW, meeting(school, instructor="quarrow"))
    page = text_of(answer)
    assert answer.status_code == 422
    assert boxes(page, "instructor") == [
        "Ilse Quarrow, ilse@rowanmere.example",
        "Ilse Quarrow, ilse.q@rowanmere.example",
    ]
    assert 'name="title" value="Slow airs"' in page
    ticked = {"instructor-ticked": other.pk, "instructor-among": "quarrow"}
    elsewhere = dag.post(NEW, meeting(school, instructor="ilse", **ticked))
    assert (elsewhere.status_code, len(boxes(text_of(elsewhere), "instructor"))) == (422, 2)
    assert dag.post(NEW, meeting(school, instructor="quarrow", **ticked)).status_code == 302
    assert Meeting.objects.latest("pk").instructor == other


def test_a_name_typed_whole_means_that_person(school: School) -> None:
    """Also where others have longer names."""
    make_instructor("Ilse Quarrow Marsh")
    answer = as_user(school.dag).post(NEW, meeting(school, instructor="Ilse Quarrow"))
    assert answer.status_code == 302
    assert Meeting.objects.latest("pk").instructor == school.ilse


BAD = {
    "": "Type a name or an email address.",
    "   ": "Type a name or an email address.",
    "nobody of that name": "Nobody matches “nobody of that name”.",
    "Noor Ashgrove": "Nobody matches",
    "99999999999999999999": "Nobody matches",
    "nobody@rowanmere.example": "Nobody matches",
    "=1+1%_\\": "Nobody matches",
    "x" * 3000: "Nobody matches",
    "\x00\x07": "Type a name or an email address.",
}


@pytest.mark.parametrize("typed", BAD)
def test_nobody_who_matches_is_said_beside_the_box(school: School, typed: str) -> None:
    """And an instructor who has left is nobody to teach."""
    answer = as_user(school.dag).post(NEW, meeting(school, instructor=typed))
    assert answer.status_code == 422
    assert BAD[typed] in re.findall(r'id="id_instructor_error">([^<]*)<', text_of(answer))[0]


@pytest.mark.parametrize("ticked", ["0", "-1", "x", "9" * 30])
def test_a_tick_for_nobody_is_refused(school: School, ticked: str) -> None:
    """A form that was written by hand."""
    more = {"instructor-ticked": ticked, "instructor-among": "quarrow"}
    answer = as_user(school.dag).post(NEW, meeting(school, instructor="quarrow", **more))
    assert answer.status_code == 422


def found(client: Client, whom: str, typed: str) -> list[str]:
    answer = client.get("/people/find/", {"whom": whom, "q": typed})
    assert answer.status_code == 200
    return list(answer.json()["found"])


def test_suggestions_find_whom_the_form_would(school: School) -> None:
    """Each label, sent as it is, means that person alone; somebody who has left is not there."""
    dag = as_user(school.dag)
    Student.objects.filter(pk=make_student("Noor Marsh").pk).update(is_active=False)
    assert found(dag, "student", "noor") == [f"Noor Ashgrove, level 4, no. {school.noor.pk}"]
    assert found(dag, "student", "hedda") == [f"Posy Lindqvist-Reed, level 2, no. {school.posy.pk}"]
    for whom in ("student", "instructor", "taught", "account"):
        for label in found(dag, whom, "o"):
            assert found(dag, whom, label) == [label]
    assert found(dag, "instructor", "") == []


def test_suggestions_are_for_admins(school: School) -> None:
    """They hold names and addresses; an unknown list is no page."""
    assert as_user(school.ilse.user).get("/people/find/?whom=student&q=no").status_code == 403
    assert as_user(school.dag).get("/people/find/?whom=everybody&q=no").status_code == 400


def test_an_invitation_names_its_student_by_typing(school: School) -> None:
    """The page of the student links here with the student filled in."""
    dag = as_user(school.dag)
    asked = {"name": "Orsola Reed", "email": "o@rowanmere.example", "role": "guardian"}
    assert dag.post("/people/", {**asked, "of": "nobody"}).status_code == 422
    assert dag.post("/people/", {**asked, "of": "posy"}).status_code == 302
    page = text_of(dag.get(f"/people/?of={school.posy.pk}&as=guardian"))
    assert f'value="Posy Lindqvist-Reed, level 2, no. {school.posy.pk}"' in page
