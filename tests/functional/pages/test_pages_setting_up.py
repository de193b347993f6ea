"""Setting up: what a school still lacks, and the way from an empty database to a first lesson."""

import html
import re
from datetime import date
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from accounts.models import Instructor, Student, User
from bookings.domain.vocabulary import Kind
from bookings.models import Booking, Offering, StudioPolicy
from tests.cast import PASSWORD, make_offering
from tests.functional.pages.conftest import Hands
from tests.functional.pages.policies import typed_rules
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.set_up import publish_a_term
from tests.functional.pages.welcome import secret_of

pytestmark = pytest.mark.sql

STEP = re.compile(r"<b>([^<]+)</b>: (?:<strong[^>]*>)?(done|missing)")


def shown(admin: Client) -> dict[str, str]:
    """Each part on the page, done or missing."""
    return dict(STEP.findall(text_of(admin.get("/setting-up/"))))


def missing(admin: Client) -> list[str]:
    return [title for title, state in shown(admin).items() if state == "missing"]


def posted(client: Client, address: str, typed: dict[str, Any]) -> str:
    """The page after a form that was taken."""
    response = client.post(address, typed, follow=True)
    assert response.redirect_chain, text_of(response)
    return text_of(response)


def make_first_admin() -> Client:
    """As docs/operations.md says: `manage.py createsuperuser`."""
    email = "dag@rowanmere.example"
    who = {"email": email, "name": "Dag Emberley", "time_zone": "Europe/Dublin"}
    call_command("createsuperuser", interactive=False, **who)
    return as_user(User.objects.get(email=email))


def joined(address: str, name: str) -> Client:
    """Somebody who has opened the link of an invitation and made their account."""
    guest = Client()
    said = {"name": name, "time_zone": "Europe/Dublin", "password": PASSWORD}
    posted(guest, address, said)
    return guest


def publish_policy_and_offering(dag: Client) -> None:
    rules = typed_rules(version=0)
    assert "Families book at least 12 hours ahead." in text_of(dag.post("/policy/new/", rules))
    posted(dag, "/policy/new/", {**rules, "act": "save"})
    posted(
        dag,
        "/offerings/new/",
        {
            "name": "Consultation",
            "kind": "consultation",
            "minutes": 25,
            "grid": "clock",
            "is_open": "on",
        },
    )


def bring_in_an_instructor(dag: Client) -> None:
    """An instructor with a room and Wednesdays, who teaches the offering."""
    asked = {"name": "Ilse Quarrow", "email": "ilse@rowanmere.example", "role": "instructor"}
    posted(dag, "/people/", asked)
    ilse = joined(secret_of("welcome"), "Ilse Quarrow")
    instructor = Instructor.objects.get()
    posted(
        dag,
        f"/offerings/{Offering.objects.get().pk}/teachers/",
        {"instructor": instructor.pk, "lowest_level": 1, "highest_level": 6, "version": 1},
    )
    assert missing(dag) == ["Rooms", "Term", "Hours", "Students"]
    posted(ilse, "/hours/room/", {"room": "https://rooms.rowanmere.example/ilse"})
    posted(ilse, "/hours/", {"time_zone": "Europe/Dublin", "version": 0, "day_2": "15:00-20:00"})


def bring_in_a_student(dag: Client) -> Client:
    noted = {
        "name": "Noor Ashgrove",
        "level": 4,
        "unit": 1,
        "age": "adult",
        "time_zone": "Europe/Dublin",
    }
    posted(dag, "/people/students/new/", noted)
    student = Student.objects.get()
    asked = {"name": "Noor Ashgrove", "email": "noor@rowanmere.example", "role": "student"}
    posted(dag, "/people/", {**asked, "of": student.pk})
    return joined(secret_of("welcome"), "Noor Ashgrove")


def book_what_suits_best(noor: Client) -> None:
    """The first start of the page Times that suit, with the form behind it as it comes."""
    found = re.search(r'href="(/times/book/[^"]+)"', text_of(noor.get("/times/")))
    assert found is not None
    form = text_of(noor.get(html.unescape(found[1])))
    hidden = re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form)
    posted(noor, "/times/book/", dict(hidden))


def test_an_empty_database_becomes_a_school_with_a_first_lesson_through_pages_alone(
    db: None,
) -> None:
    """From the command that makes the first admin to a lesson that a student books."""
    dag = make_first_admin()
    assert dag.get("/").url == "/setting-up/"
    assert missing(dag) == [
        "Studio policy",
        "Offerings",
        "Techniques",
        "Instructors",
        "Who teaches what",
        "Rooms",
        "Term",
        "Hours",
        "Students",
    ]
    publish_policy_and_offering(dag)
    assert missing(dag)[0] == "Instructors"
    bring_in_an_instructor(dag)
    term = {
        "name": "Spring",
        "first_on": "2027-03-01",
        "last_on": "2027-06-30",
        "lessons_promised": 12,
    }
    posted(dag, "/terms/", term)
    assert missing(dag) == ["Students"]
    noor = bring_in_a_student(dag)
    assert missing(dag) == []
    assert dag.get("/").url == "/needs/"
    book_what_suits_best(noor)
    booking = Booking.objects.get()
    assert (booking.standing, booking.policy.version) == ("HELD", 1)


def test_each_missing_part_leads_to_a_page_that_opens(db: None) -> None:
    """Every link of the page works for the first admin of an empty school."""
    dag = make_first_admin()
    page = text_of(dag.get("/setting-up/")).partition("<main")[2].partition("</main>")[0]
    links = set(re.findall(r'<a href="([^"]+)"', page))
    assert len(links) == 9
    assert {dag.get(link).status_code for link in links} == {200}


def test_what_is_there_only_in_part_is_done_and_told(school: School) -> None:
    """One instructor has hours and one has none: lessons can be booked, and the page says so."""
    dag = as_user(school.dag)
    assert missing(dag) == ["Term"]
    assert "1 instructor has no hours." in text_of(dag.get("/setting-up/"))


def test_offerings_without_a_teacher_are_counted_in_a_whole_sentence(school: School) -> None:
    """Two have nobody to teach them, and one has nobody to teach it."""
    make_offering("Private lesson", Kind.PRIVATE_LESSON, 50)
    dag = as_user(school.dag)
    assert "1 open offering has nobody to teach it." in text_of(dag.get("/setting-up/"))
    make_offering("Masterclass", Kind.MASTERCLASS, 90)
    assert "2 open offerings have nobody to teach them." in text_of(dag.get("/setting-up/"))


def test_a_term_that_is_over_is_missing(school: School, hands: Hands) -> None:
    """Families cannot take a weekly place in it."""
    publish_a_term(last_on=date(2027, 2, 28))
    assert missing(as_user(school.dag)) == ["Term"]


def test_a_policy_whose_day_has_not_come_is_missing(school: School, hands: Hands) -> None:
    """Nothing can be booked before."""
    StudioPolicy.objects.update(in_force_from=hands.at.replace(year=2028))
    assert "Studio policy" in missing(as_user(school.dag))


def test_an_offering_that_nobody_here_teaches_is_missing(school: School) -> None:
    """Instructors who have gone teach nothing, though their rows stay."""
    Instructor.objects.update(is_active=False)
    assert {"Instructors", "Who teaches what", "Rooms", "Hours"} <= set(
        missing(as_user(school.dag))
    )


def test_check_school_prints_the_list_of_the_page(school: School, capsys: Any) -> None:
    """It fails while something is missing, and names it."""
    with pytest.raises(CommandError, match="Missing: 1") as failed:
        call_command("check_school")
    assert failed.value.returncode == 1
    printed = capsys.readouterr().out
    assert [line.split(".")[0].split(None, 1)[1] for line in printed.splitlines()] == list(
        shown(as_user(school.dag))
    )
    publish_a_term()
    call_command("check_school")
    assert "Nothing is missing" in capsys.readouterr().out


def test_a_school_in_production_that_has_no_name_of_its_own_is_told(
    school: School, settings: Any
) -> None:
    """The invented name is for trying out."""
    settings.PRODUCTION = True
    dag = as_user(school.dag)
    assert missing(dag) == ["The school’s name and addresses", "Term"]
    settings.SCHOOL_IS_NAMED = True
    assert missing(dag) == ["Term"]


@pytest.mark.parametrize(
    "page", ["policy", "policy/new", "offerings", "techniques", "retention", "programs"]
)
def test_setting_up_is_where_its_pages_are(school: School, page: str) -> None:
    """The link that led to a page is the current one there."""
    shown = text_of(as_user(school.dag).get(f"/{page}/"))
    assert '<a href="/setting-up/" aria-current="page">' in shown
    assert shown.count('aria-current="page"') == 1
