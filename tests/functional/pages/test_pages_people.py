"""The ways in and one's own things: signing in, invitations, consent, clocks, calendars, the second
factor, the office.
"""

import re

import pytest
from django.test import Client

from accounts.models import Guardianship, User, Welcome
from bookings.models import OutboxMessage
from bookings.operations.consents import ask_for_consent
from bookings.operations.invitations import invite
from tests.cast import NOW, PASSWORD, make_minor, make_user
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.set_up import publish_a_term
from tests.functional.pages.welcome import secret_of


def test_signing_in_and_out(db: None) -> None:
    """By email and password; a wrong password and an unknown address get the same answer."""
    make_user("Noor Ashgrove", password=PASSWORD, email="noor@rowanmere.example")
    client = Client()
    answers = [
        client.post("/accounts/login/", {"login": login, "password": "wrong"})
        for login in ("noor@rowanmere.example", "nobody@rowanmere.example")
    ]
    said = [re.sub(r'value="[^"]*"', "", text_of(answer)) for answer in answers]
    assert said[0] == said[1]
    assert (
        client.post(
            "/accounts/login/", {"login": "noor@rowanmere.example", "password": PASSWORD}
        ).status_code
        == 302
    )
    assert client.get("/accounts/logout/").status_code == 200
    assert client.get("/me/").status_code == 200
    client.post("/accounts/logout/")
    assert client.get("/me/").status_code == 302


def test_a_forgotten_password(db: None) -> None:
    """Known and unknown addresses look the same; the email's form sets the new one."""
    make_user("Noor Ashgrove", password=PASSWORD, email="noor@rowanmere.example")
    client = Client()
    for email in ("noor@rowanmere.example", "nobody@rowanmere.example"):
        assert "Check your email" in text_of(
            client.post("/accounts/password/reset/", {"email": email}, follow=True)
        )
    letter = OutboxMessage.objects.get()
    address = re.search(r"/accounts/password/reset/key/\S+", letter.body)[0]
    form = client.get(address, follow=True)
    assert form.headers["Cache-Control"] == "no-store, private"
    done = client.post(
        form.request["PATH_INFO"],
        {"password1": "another-fine-sentence", "password2": "another-fine-sentence"},
        follow=True,
    )
    assert "Your password has been changed" in text_of(done)
    assert client.login(email="noor@rowanmere.example", password="another-fine-sentence")


@pytest.mark.parametrize(
    "address",
    [
        "/times/",
        "/my-lessons/",
        "/hours/",
        "/meetings/",
        "/calendars/",
        "/people/",
        "/me/",
        "/office/",
    ],
)
def test_strangers_are_sent_to_sign_in(db: None, address: str) -> None:
    """Every page but the ways in needs an account; the office has no door of its own."""
    response = Client().get(address, follow=True)
    assert response.redirect_chain[-1][0].startswith("/accounts/login/")


def test_each_role_begins_at_its_own_page(school: School) -> None:
    """Students at their lessons, instructors at their day, admins at what needs them."""
    publish_a_term()
    pages = {
        school.noor.user: "/my-lessons/",
        school.hedda: "/my-lessons/",
        school.ilse.user: "/today/",
        school.dag: "/needs/",
    }
    for user, page in pages.items():
        assert as_user(user).get("/").url == page
    assert as_user(make_user("Nobody Yet")).get("/").url == "/me/"


def test_an_admin_invites_and_the_invited_comes_in_once(school: School) -> None:
    """The letter's form makes the account; the same letter opens nothing afterwards."""
    dag = as_user(school.dag)
    asked = {"name": "Tenzin Orlo", "email": "tenzin@rowanmere.example", "role": "instructor"}
    assert dag.post("/people/", asked).status_code == 302
    assert "Tenzin Orlo" in text_of(dag.get("/people/"))
    address, guest = secret_of("welcome"), Client()
    assert "as an instructor" in text_of(guest.get(address))
    assert (
        guest.post(
            address, {"name": "Tenzin Orlo", "time_zone": "Asia/Kathmandu", "password": "short"}
        ).status_code
        == 422
    )
    said = {"name": "Tenzin Orlo", "time_zone": "Asia/Kathmandu", "password": PASSWORD}
    assert guest.post(address, said).url == "/"
    assert User.objects.get(email="tenzin@rowanmere.example").instructor.is_active
    assert guest.get(address).status_code == 404
    assert guest.get("/welcome/nothing/").status_code == 404


def test_somebody_known_only_gains_the_role(school: School) -> None:
    """An invitation to an address with an account asks for no password and changes none."""
    invite(actor=school.dag, email=school.hedda.email, name="Hedda", as_instructor=True, now=NOW)
    password, guest, address = school.hedda.password, Client(), secret_of("welcome")
    assert "You already have an account" in text_of(guest.get(address))
    guest.post(address, {"password": "something-else-entirely"})
    school.hedda.refresh_from_db()
    assert school.hedda.password == password
    assert school.hedda.instructor
    assert Welcome.objects.get().used_at


def test_an_invitation_for_a_student_names_the_student(school: School) -> None:
    """Without one the form says which field is missing; only admins invite."""
    asked = {"name": "A", "email": "a@rowanmere.example", "role": "guardian"}
    assert 'href="#id_of"' in text_of(as_user(school.dag).post("/people/", asked))
    assert as_user(school.ilse.user).get("/people/").status_code == 403
    assert not Welcome.objects.exists()


def test_consent_is_the_guardians_own_post(school: School) -> None:
    """Opening the emailed form changes nothing; ticking and posting does, with date and wording."""
    kit = make_minor("Kit Fell", guardian=make_user("Ines Fell"), consent=False)
    ask_for_consent(student_id=kit.pk, now=NOW)
    address, guest = secret_of("consent"), Client()
    form = text_of(guest.get(address))
    assert "I am Kit’s parent or guardian, and I agree." in form
    assert "between 08:00 and 21:00 on Kit’s own clock" in form
    assert guest.post(address).status_code == 422
    assert Guardianship.objects.get(student=kit).consent_at is None
    shown = re.search(r'name="wording" value="([^"]+)"', form)[1]
    assert guest.post(address, {"agree": "yes", "wording": "2020-01"}).status_code == 412
    assert guest.post(address, {"agree": "yes", "wording": shown}).status_code == 302
    given = Guardianship.objects.get(student=kit)
    assert (given.consent_at, given.consent_wording) == (NOW, "2026-11")
    assert guest.get("/consent/nothing/").status_code == 404


def test_ones_name_and_clock(school: School) -> None:
    """Kept, and an unknown zone comes back as an error of the form."""
    client = as_user(school.noor.user)
    assert (
        client.post("/me/", {"name": "Noor A.", "time_zone": "Asia/Kathmandu"}).status_code == 302
    )
    assert re.search(r"Kathmandu <time[^>]*>14:45", text_of(client.get("/me/")))
    assert client.post("/me/", {"name": "", "time_zone": "Mars/Olympus"}).status_code == 422


def test_another_browser_zone_asks_which_clock_to_use(school: School) -> None:
    """Asked while they differ and nothing is chosen; keeping is remembered, changing changes the
    account.
    """
    client = as_user(school.noor.user)
    client.cookies["browser_zone"] = "Europe/Dublin"
    asked = "Which one should these pages use?"
    assert asked in text_of(client.get("/my-lessons/"))
    assert client.post("/me/zone/", {"use": "keep", "next": "/my-lessons/"}).url == "/my-lessons/"
    assert asked not in text_of(client.get("/my-lessons/"))
    client.cookies["browser_zone"] = "Australia%2FSydney"
    client.cookies["browser_zone"] = "Australia/Sydney"
    assert asked in text_of(client.get("/my-lessons/"))
    assert (
        client.post(
            "/me/zone/", {"use": "Australia/Sydney", "next": "https://elsewhere.example/"}
        ).url
        == "/"
    )
    school.noor.user.refresh_from_db()
    assert school.noor.user.zone == "Australia/Sydney"


@pytest.mark.parametrize("zone", ["US/Eastern", "America/Detroit", "Mars/Olympus", ""])
def test_other_names_of_the_same_clock_ask_nothing(school: School, zone: str) -> None:
    """A browser may call New York's clock by another name, or by none that we know."""
    client = as_user(school.noor.user)
    client.cookies["browser_zone"] = zone
    assert "Which one should" not in text_of(client.get("/my-lessons/"))


def test_a_second_factor_comes_first_where_it_is_required(school: School, settings: object) -> None:
    """Instructors and admins are led to set one up, students are not; the office is behind the same
    door.
    """
    settings.SECOND_FACTOR_REQUIRED = True  # type: ignore[attr-defined]
    for user, address in ((school.ilse.user, "/hours/"), (school.dag, "/office/")):
        assert as_user(user).get(address).url == "/accounts/2fa/"
    assert as_user(school.ilse.user).get("/accounts/2fa/").status_code == 200
    assert as_user(school.noor.user).get("/my-lessons/").status_code == 200


def test_a_session_dies_with_the_account(school: School) -> None:
    """Deactivated means out, at once."""
    client = as_user(school.noor.user)
    school.noor.user.is_active = False
    school.noor.user.save()
    assert client.get("/my-lessons/").status_code == 302
