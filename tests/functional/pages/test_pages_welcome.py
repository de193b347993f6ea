"""An invitation's form: whose clock it takes, and where its reader is afterwards."""

import re
from typing import Any

import pytest
from django.test import Client

from accounts.models import User
from bookings.operations.invitations import invite
from tests.cast import NOW, PASSWORD, make_minor
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.second_factor import with_factor
from tests.functional.pages.welcome import secret_of

GUARDIAN = "colette@rowanmere.example"


def invited(school: School, **role: Any) -> str:
    """The address of an open invitation."""
    role = role or {"guardian_of": school.posy}
    invite(actor=school.dag, email=GUARDIAN, name="Colette Aubrac", now=NOW, **role)
    return secret_of("welcome")


def said(time_zone: str = "Europe/Paris") -> dict[str, str]:
    return {"name": "Colette Aubrac", "time_zone": time_zone, "password": PASSWORD}


def chosen(page: str) -> list[str]:
    """The choices of the clock that are selected."""
    return re.findall(r'<option value="([^"]*)"[^>]* selected', page)


def test_no_clock_is_chosen_for_a_browser_that_has_told_none(school: School) -> None:
    """The first choice is empty, and a form without a choice is not taken."""
    address, guest = invited(school), Client()
    assert chosen(text_of(guest.get(address))) == [""]
    answer = guest.post(address, said(""))
    assert answer.status_code == 422
    assert not User.objects.filter(email=GUARDIAN).exists()


@pytest.mark.parametrize(
    ("told", "name"),
    [("Europe/Paris", "Europe/Paris"), ("Asia/Calcutta", "Asia/Kolkata"), ("Mars/Olympus", "")],
)
def test_the_clock_that_the_browser_has_told_is_chosen(
    school: School, told: str, name: str
) -> None:
    """Under its current name, where the browser calls it by an older one."""
    guest = Client()
    guest.cookies["browser_zone"] = told
    assert chosen(text_of(guest.get(invited(school)))) == [name]


def test_the_list_names_each_zone_once(school: School) -> None:
    """Kolkata is there and Calcutta is not; the older name stands beside it for the script only."""
    page = text_of(Client().get(invited(school)))
    names = re.findall(r'<option value="([^"]*)"', page)
    assert "Asia/Kolkata" in names
    assert not {"Asia/Calcutta", "Europe/Kiev", "America/Indianapolis"} & set(names)
    assert re.search(r'value="Asia/Kolkata" data-also="[^"]*Asia/Calcutta', page)


def test_whoever_makes_their_account_is_signed_in(school: School) -> None:
    """The guardian is at their child's lessons at once, without the sign-in page."""
    address, guest = invited(school), Client()
    assert guest.post(address, said()).url == "/"
    assert guest.get("/").url == "/my-lessons/"
    assert guest.get("/my-lessons/").status_code == 200
    assert User.objects.get(email=GUARDIAN).zone == "Europe/Paris"


@pytest.mark.parametrize("role", ["as_instructor", "as_admin"])
def test_a_second_factor_is_still_asked_of_whoever_needs_one(
    school: School, settings: Any, role: str
) -> None:
    """A new instructor or admin is led to set one up before anything else."""
    settings.SECOND_FACTOR_REQUIRED = True
    address, guest = invited(school, **{role: True}), Client()
    assert guest.post(address, said()).status_code == 302
    assert guest.get("/meetings/").url == "/accounts/2fa/"
    assert guest.get("/hours/" if role == "as_instructor" else "/office/").url == "/accounts/2fa/"


def test_an_invitation_signs_nobody_in_to_an_account_that_is_there(school: School) -> None:
    """A mailed link adds a role; it stands for neither the password nor the second factor."""
    with_factor(school.hedda)
    invite(actor=school.dag, email=school.hedda.email, name="H", as_instructor=True, now=NOW)
    guest = Client()
    assert guest.post(secret_of("welcome")).url == "/accounts/login/"
    assert guest.get("/my-lessons/").status_code == 302


def test_whoever_is_signed_in_stays_signed_in_as_they_gain_a_child(school: School) -> None:
    """Nobody who is in is sent to the sign-in page."""
    user = school.marlo.user
    assert user is not None
    invite(actor=school.dag, email=user.email, name="M", guardian_of=school.posy, now=NOW)
    browser = as_user(user)
    assert browser.post(secret_of("welcome")).url == "/"
    assert "Posy" in text_of(browser.get("/my-lessons/"))


def test_a_guardian_who_joins_reads_of_the_missing_consent_at_once(school: School) -> None:
    """On the first page after the form, and on every page of the child from then on, with the form
    one click away; an old consent of another guardian's is enough.
    """
    kit = make_minor("Kit Fell", guardian=school.hedda, consent=False)
    guest = Client()
    first = guest.post(invited(school, guardian_of=kit), said(), follow=True)
    form = f"/me/consents/{kit.guardianships.get(guardian__email=GUARDIAN).pk}/"
    pages = ["/times/", "/weekly/", "/my-lessons/", "/calendars/", "/me/", "/meetings/"]
    for shown in (first, *(guest.get(page) for page in pages)):
        assert "Kit’s lessons need a guardian’s consent." in text_of(shown)
        assert form in text_of(shown)
    kit.guardianships.filter(guardian=school.hedda).update(
        consent_at=NOW, consent_wording="2026-11"
    )
    assert "consent." not in text_of(guest.get("/my-lessons/"))
