"""People, as an admin finds them: lists that are searched and paged, of age or not, and invited."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Student, Welcome
from bookings.domain.zones import zone
from tests.cast import NOW
from tests.functional.pages.full_school import add_students
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql

TYPED = {"name": "Kit Fell", "level": 2, "unit": 1, "time_zone": "Europe/Dublin"}


def child(name: str = "Kit Fell") -> Student:
    return Student.objects.create(
        own_name=name, level=2, adult_on=date(2034, 6, 1), own_time_zone=zone("Europe/Dublin")
    )


@pytest.mark.parametrize("address", ["/people/", "/people/?q=alder", "/people/?show=minors-alone"])
def test_people_stays_small_with_five_thousand_students(school: School, address: str) -> None:
    """At most 100 kB and 12 queries, whatever list is shown and searched."""
    add_students(5000)
    dag = as_user(school.dag)
    with CaptureQueriesContext(connection) as seen:
        answer = dag.get(address)
    assert answer.status_code == 200
    assert len(answer.content) <= 100_000
    assert len(seen) <= 12


def test_every_student_is_on_one_page_of_the_list(school: School) -> None:
    """Page after page names each student once, with as few links as there are names."""
    add_students(90)
    dag, found = as_user(school.dag), []
    for page in (1, 2, 3):
        shown = text_of(dag.get(f"/people/?page={page}"))
        found += re.findall(r'href="/people/students/(\d+)/"', shown)
    assert sorted(map(int, found)) == sorted(Student.objects.values_list("pk", flat=True))


@pytest.mark.parametrize("words", ["noor", "ash noor", "NOOR@rowan"])
def test_a_student_is_found_by_parts_of_name_and_address(school: School, words: str) -> None:
    """Each word is looked for, in any order, in capitals or not."""
    page = text_of(as_user(school.dag).get("/people/", {"q": words}))
    assert "Noor Ashgrove" in page
    assert "Marlo Vance" not in page


def test_a_child_is_found_by_the_guardian(school: School) -> None:
    """Whoever telephones gives their own name."""
    page = text_of(as_user(school.dag).get("/people/", {"q": "hedda"}))
    assert "Posy Lindqvist-Reed" in page
    assert "Noor Ashgrove" not in page


def test_a_search_that_finds_nobody_says_so_and_keeps_the_words(school: School) -> None:
    """What was typed stands in the field, made harmless."""
    page = text_of(as_user(school.dag).get("/people/", {"q": '"><b>'}))
    assert "Nobody matches" in page
    assert 'value="&quot;&gt;&lt;b&gt;"' in page


@pytest.mark.parametrize(
    "show", ["instructors", "admins", "invited", "left", "dismissed", "closed"]
)
def test_each_list_has_its_own_page(school: School, show: str) -> None:
    """One list at a time; an unknown one is the students'."""
    dag = as_user(school.dag)
    assert dag.get("/people/", {"show": show}).status_code == 200
    assert "Noor Ashgrove" not in text_of(dag.get("/people/", {"show": show}))
    assert "Noor Ashgrove" in text_of(dag.get("/people/", {"show": "nobody"}))


@pytest.mark.parametrize(
    ("age", "status"),
    [
        ({}, 422),
        ({"age": ""}, 422),
        ({"age": "adult"}, 302),
        ({"age": "adult", "adult_on": "2034-06-01"}, 422),
        ({"age": "minor"}, 422),
        ({"age": "minor", "adult_on": "2020-06-01"}, 422),
        ({"age": "minor", "adult_on": "2034-06-01"}, 302),
    ],
)
def test_a_student_is_of_age_by_choice_and_never_by_an_empty_date(
    school: School, age: dict[str, str], status: int
) -> None:
    """Adult or minor is said; a minor has a birthday ahead, and an adult none."""
    answer = as_user(school.dag).post("/people/students/new/", {**TYPED, **age})
    assert answer.status_code == status
    assert Student.objects.filter(own_name="Kit Fell").exists() == (status == 302)


def test_somebody_who_has_come_of_age_is_shown_as_an_adult(school: School) -> None:
    """The day stays on record when something else is changed."""
    kit = child()
    kit.adult_on = NOW.date() - timedelta(days=3)
    kit.save()
    dag, address = as_user(school.dag), f"/people/students/{kit.pk}/"
    assert '<option value="adult" selected>' in text_of(dag.get(address))
    said = {**TYPED, "level": 3, "age": "adult", "adult_on": str(kit.adult_on)}
    assert dag.post(address, said).status_code == 302
    kit.refresh_from_db()
    assert (kit.level, kit.adult_on) == (3, NOW.date() - timedelta(days=3))


def test_a_minor_without_a_guardian_is_flagged(school: School) -> None:
    """On the list, in a list of their own, and on the student's page, until a guardian is there."""
    kit, dag = child(), as_user(school.dag)
    addresses = ["/people/?q=kit", f"/people/students/{kit.pk}/"]
    for address in addresses:
        assert "minor without a guardian" in text_of(dag.get(address)), address
    alone = text_of(dag.get("/people/?show=minors-alone"))
    assert ("Kit Fell" in alone, "Posy" in alone) == (True, False)
    kit.guardianships.create(guardian=school.hedda)
    assert "Kit Fell" not in text_of(dag.get("/people/?show=minors-alone"))
    for address in addresses:
        assert "minor without a guardian" not in text_of(dag.get(address)), address
    school.hedda.is_active = False
    school.hedda.save()
    assert "minor without a guardian" in text_of(dag.get(addresses[0]))


def test_an_invitation_names_the_student_it_was_begun_from(school: School) -> None:
    """From the student's page to the form, and back to it where an address is mistyped."""
    kit, dag = child(), as_user(school.dag)
    begun = f"/people/?of={kit.pk}&amp;as=guardian#invite"
    assert begun in text_of(dag.get(f"/people/students/{kit.pk}/"))
    shown = text_of(dag.get(f"/people/?of={kit.pk}&as=guardian"))
    assert f'value="Kit Fell, level 2, no. {kit.pk}"' in shown
    said = {"name": "Ines Fell", "email": "ines", "role": "guardian", "of": kit.pk}
    refused = dag.post("/people/", said)
    assert refused.status_code == 422
    assert "Kit Fell, level 2" in text_of(refused)
    assert dag.post("/people/", {**said, "email": "ines@rowanmere.example"}).status_code == 302
    assert Welcome.objects.get().guardian_of == kit
