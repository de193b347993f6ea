"""The page of a person: what belongs to them, counted and linked, and every act there."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Student, User
from bookings.operations.invitations import invite
from tests.cast import NOW, make_assessment, make_booking
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.set_up import publish_a_term
from tests.school.masterclasses import masterclass_place
from tests.school.owed import owed_from_before
from tests.school.weekly import weekly_place

pytestmark = pytest.mark.sql

COUNTED = re.compile(r"<dt>([^<]+)</dt><dd>(?:<a href=\"([^\"]+)\">)?(\d+)")


def counted(page: str) -> dict[str, int]:
    return {name: int(count) for name, _, count in COUNTED.findall(page)}


def student_page(school: School) -> str:
    return f"/people/students/{school.noor.pk}/"


def account_page(user: User | None) -> str:
    return f"/people/accounts/{user.pk}/"  # type: ignore[union-attr]


def test_a_students_page_counts_what_belongs_to_them(school: School) -> None:
    """Nothing first; then what was booked, owed, written and asked for."""
    dag = as_user(school.dag)
    assert counted(text_of(dag.get(student_page(school)))) == {
        "Booked ahead": 1,
        "Weekly places": 0,
        "Waiting lists": 0,
        "Lessons owed": 0,
        "Requests to move": 0,
        "Notes": 0,
        "Data requests": 0,
    }
    make_booking(school.circle, school.noor)
    owed_from_before(weekly_place(school.ilse, school.noor))
    make_assessment(school.noor, school.ilse, state="released", released_at=NOW)
    make_assessment(school.noor, school.ilse)  # a draft is the author's alone
    school.noor.privacy_requests.create(kind="access", asked_by=school.noor.user, asked_at=NOW)
    found = counted(text_of(dag.get(student_page(school))))
    assert found["Booked ahead"] >= 2
    assert (found["Weekly places"], found["Lessons owed"]) == (1, 1)
    assert (found["Notes"], found["Data requests"]) == (1, 1)


def test_a_guardian_who_learns_is_not_made_a_minor(school: School) -> None:
    """The page says what to do first, and changes nothing."""
    learner = Student.objects.create(user=school.hedda, level=4)
    typed = {"level": 4, "unit": 1, "age": "minor", "adult_on": "2030-05-04"}
    response = as_user(school.dag).post(f"/people/students/{learner.pk}/", typed)
    assert response.status_code == 403
    assert "This student is a guardian of Posy, and a guardian is an adult." in text_of(response)
    learner.refresh_from_db()
    assert learner.adult_on is None


def test_every_link_of_a_persons_page_leads_somewhere(school: School) -> None:
    """For a student with everything, a minor, an instructor, a guardian and an admin."""
    publish_a_term()
    masterclass_place(school.ilse, school.noor)
    invite(actor=school.dag, email="o@x.example", name="O", guardian_of=school.posy, now=NOW)
    invite(actor=school.dag, email=school.hedda.email, name="H", as_instructor=True, now=NOW)
    dag = as_user(school.dag)
    pages = [
        student_page(school),
        f"/people/students/{school.posy.pk}/",
        *map(account_page, (school.ilse.user, school.hedda, school.noor.user, school.dag)),
    ]
    for page in pages:
        main = text_of(dag.get(page)).partition("<main")[2]
        links = {link.replace("&amp;", "&") for link in re.findall(r'href="(/[^"#]*)', main)}
        assert links
        for link in links:
            assert dag.get(link).status_code == 200, (page, link)


def test_an_invitation_is_withdrawn_where_it_is_shown(school: School) -> None:
    """And leads back there, not elsewhere."""
    dag, page = as_user(school.dag), f"/people/students/{school.posy.pk}/"
    welcome = invite(
        actor=school.dag, email="o@x.example", name="Orsola", guardian_of=school.posy, now=NOW
    )
    assert "Orsola, o@x.example" in text_of(dag.get(page))
    withdraw = f"/people/invitations/{welcome.pk}/withdraw/"
    assert dag.post(withdraw, {"next": page}).url == page
    assert "Orsola, o@x.example" not in text_of(dag.get(page))
    assert dag.post(withdraw, {"next": "https://elsewhere.example/"}).url == "/people/"


def test_an_accounts_page_tells_roles_invitations_and_what_is_taught(school: School) -> None:
    """A guardian with an invitation, and an instructor with meetings ahead."""
    invite(actor=school.dag, email=school.hedda.email, name="H", as_instructor=True, now=NOW)
    page = text_of(as_user(school.dag).get(account_page(school.hedda)))
    assert "A guardian of Posy Lindqvist-Reed, consent given on" in page
    assert "Invited as an instructor" in page
    school.noor.regular_instructor = school.ilse
    school.noor.save()
    taught = counted(text_of(as_user(school.dag).get(account_page(school.ilse.user))))
    assert taught == {
        "Meetings to teach": 2,
        "Regular students": 1,
        "Offerings taught": 2,
        "Requests to move": 0,
    }


def test_a_persons_page_needs_few_statements(school: School) -> None:
    """Whatever belongs to them."""
    weekly_place(school.ilse, school.noor)
    invite(actor=school.dag, email="o@x.example", name="O", guardian_of=school.posy, now=NOW)
    school.noor.regular_instructor = school.ilse
    school.noor.save()
    dag = as_user(school.dag)
    for page in (
        student_page(school),
        f"/people/students/{school.posy.pk}/",
        account_page(school.ilse.user),
        account_page(school.hedda),
    ):
        with CaptureQueriesContext(connection) as statements:
            assert dag.get(page).status_code == 200
        assert len(statements) <= 12, page
