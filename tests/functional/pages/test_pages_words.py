"""No sentence of a library is left where a person reads: not on a page, in an error or in a
message.
"""

import gettext
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.test import Client

from accounts.models import User
from tests.cast import PASSWORD, make_user
from tests.functional.pages.library_words import library_words, messages_in
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.second_factor import code, with_factor
from tests.functional.routes import every_route

pytestmark = pytest.mark.django_db(transaction=True)
FACTOR = "/accounts/2fa/"


@pytest.fixture
def noor(db: None) -> User:
    return make_user("Noor Ashgrove", password=PASSWORD, email="noor@rowanmere.example")


def signed_in(user: User) -> Client:
    client = Client()
    client.post("/accounts/login/", {"login": user.email, "password": PASSWORD})
    return client


def assert_own_words(*answers: Any) -> None:
    """Every page as it is read; a redirect has been followed."""
    for answer in answers:
        assert answer.status_code in (200, 422), answer.status_code
        assert library_words(text_of(answer)) == [], answer.request["PATH_INFO"]


def account_pages() -> list[str]:
    return sorted({one.path for one in every_route() if one.path.startswith("/accounts/")})


def test_the_check_knows_the_library_s_words() -> None:
    """A page that shows a sentence, an error or a placeholder of a library is found out."""
    assert library_words("<h1>Confirm Access</h1>") == ["Confirm Access"] * 2
    assert library_words("<li>Your name: This field is required.</li>")
    assert library_words('<input placeholder="Remember Me">')
    assert library_words("<p>Successfully signed in as Noor.</p>")
    assert library_words("<p>Sign in to see your lessons.</p>") == []


def test_every_account_page_is_in_the_school_s_words(noor: User) -> None:
    """Walked from the URLconf: for a stranger, for somebody signed in, and with a second factor."""
    inside, confirmed, factored = signed_in(noor), signed_in(noor), Client()
    confirmed.post("/accounts/reauthenticate/", {"password": PASSWORD})
    for client in (Client(), inside, confirmed):
        for page in account_pages():
            answer = client.get(page, follow=True)
            assert library_words(text_of(answer)) == [], page
    secret = with_factor(noor)
    factored.post("/accounts/login/", {"login": noor.email, "password": PASSWORD})
    assert_own_words(factored.get(f"{FACTOR}authenticate/"))
    factored.post(f"{FACTOR}authenticate/", {"code": code(secret)})
    factored.post("/accounts/reauthenticate/", {"password": PASSWORD})
    for page in account_pages():
        assert library_words(text_of(factored.get(page, follow=True))) == [], page


def refusals_of_strangers(noor: User) -> Iterator[Any]:
    guest = Client()
    for said in ({}, {"login": "x", "password": "y"}, {"login": noor.email, "password": "wrong"}):
        yield guest.post("/accounts/login/", said)
    for said in ({}, {"email": "no address"}):
        yield guest.post("/accounts/password/reset/", said)
    yield guest.get("/accounts/password/reset/key/1-made-up/", follow=True)


def refusals_of_passwords(noor: User) -> Iterator[Any]:
    client = signed_in(noor)
    for old, one, two in (
        ("", "", ""),
        ("wrong", "short", "short"),
        (PASSWORD, "password12", "another"),
        (PASSWORD, "1234567890", "1234567890"),
        (PASSWORD, noor.email, noor.email),
    ):
        said = {"oldpassword": old, "password1": one, "password2": two}
        yield client.post("/accounts/password/change/", said)
    for password in ("", "wrong"):
        yield client.post("/accounts/reauthenticate/", {"password": password})


def test_refusals_are_in_the_school_s_words(noor: User) -> None:
    """Wrong passwords, empty fields, weak and unlike passwords, links that are used up."""
    assert_own_words(*refusals_of_strangers(noor), *refusals_of_passwords(noor))


def test_the_second_factor_speaks_the_school_s_words(noor: User) -> None:
    """Setting up, wrong codes, recovery codes and turning off, with the message after each."""
    client = signed_in(noor)
    client.post("/accounts/reauthenticate/", {"password": PASSWORD})
    setting_up = client.get(f"{FACTOR}totp/activate/")
    secret = client.session["mfa.totp.secret"]
    for said in ({}, {"code": "000000"}):
        assert_own_words(setting_up, client.post(f"{FACTOR}totp/activate/", said))
    right = {"code": code(secret)}
    assert_own_words(client.post(f"{FACTOR}totp/activate/", right, follow=True))
    assert_own_words(client.get(f"{FACTOR}recovery-codes/generate/"))
    assert_own_words(client.post(f"{FACTOR}recovery-codes/generate/", follow=True))
    again = Client()
    again.post("/accounts/login/", {"login": noor.email, "password": PASSWORD})
    for said in ({}, {"code": "000000"}):
        assert_own_words(again.post(f"{FACTOR}authenticate/", said))
    assert_own_words(client.get(f"{FACTOR}totp/deactivate/"))
    assert_own_words(client.post(f"{FACTOR}totp/deactivate/", follow=True))


def test_messages_of_the_library_are_the_school_s(noor: User) -> None:
    """After signing in nothing is said; after a new password and signing out, our sentence."""
    client = Client()
    said = {"login": noor.email, "password": PASSWORD}
    first = client.post("/accounts/login/", said, follow=True)
    assert "Successfully" not in text_of(first)
    new = {"oldpassword": PASSWORD, "password1": "a-new-fine-sentence"}
    new["password2"] = new["password1"]
    changed = client.post("/accounts/password/change/", new, follow=True)
    left = client.post("/accounts/logout/", follow=True)
    assert_own_words(first, changed, left)


WRONG = [
    ("noor", "/me/", {"name": "", "time_zone": "Mars/Olympus"}),
    ("noor", "/my-lessons/{booking}/intake/", {"question_1": "x" * 400}),
    ("noor", "/calendars/", {"label": ""}),
    ("ilse", "/brief/{booking}/assessment/", {"level": "99", "unit": "x", "heard_on": "soon"}),
    ("ilse", "/brief/{booking}/assessment/", {"level": "0", "unit": "", "heard_on": "1066-10-14"}),
    ("dag", "/people/", {"name": "", "email": "none", "role": "king"}),
    ("dag", "/offerings/new/", {"minutes": "7", "changeover_minutes": "3"}),
    ("dag", "/meetings/new/", {"offering": "9999", "places": "0", "join_address": "no address"}),
]


@pytest.mark.parametrize(("who", "address", "said"), WRONG)
def test_a_form_s_errors_are_in_the_school_s_words(
    school: School, who: str, address: str, said: dict[str, str]
) -> None:
    """Empty, too long, too small, no date, no choice: each error is a sentence of ours."""
    people = {"noor": school.noor.user, "ilse": school.ilse.user, "dag": school.dag}
    answer = as_user(people[who]).post(address.format(booking=school.booking.pk), said)
    assert answer.status_code == 422
    assert re.search(r'class="why"|role="alert"', text_of(answer))
    assert library_words(text_of(answer)) == []


def test_the_compiled_catalogue_is_the_written_one() -> None:
    """What is read at run time says what stands in the .po file: msgfmt has been run."""
    folder = django_settings.LOCALE_PATHS[0] / "en" / "LC_MESSAGES"
    with (folder / "django.mo").open("rb") as compiled:
        read = gettext.GNUTranslations(compiled)._catalog  # type: ignore[attr-defined]
    known = {key[0] if isinstance(key, tuple) else key.split("\x04")[-1] for key in read if key}
    written = set(messages_in(folder / "django.po"))
    plurals = {one for one in written if one.replace("characters", "character") in written - {one}}
    assert known == written - plurals
    assert all(said and said not in known for key, said in read.items() if key)
