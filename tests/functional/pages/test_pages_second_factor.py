"""The second factor: the session that passed it counts, enrolling ends the others, and a lost one
is reset.
"""

from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.test import Client

from accounts.models import User
from bookings.models import OutboxMessage
from bookings.operations.invitations import come_in, invite
from tests.cast import NOW, PASSWORD, make_admin, make_instructor, make_user
from tests.functional.api.client import snapshot
from tests.functional.pages.matrix import addresses
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.second_factor import code, with_factor
from tests.functional.pages.sessions import is_let_in, reads_me, token_of
from tests.functional.pages.welcome import secret_of

# The library says that somebody enrolled when it has committed.
committed = pytest.mark.django_db(transaction=True)
ENROL, PASS = "/accounts/2fa/", "/accounts/2fa/reauthenticate/"


def signed_in(user: User, secret: str = "") -> Client:
    """A browser that gave the password and, where there is a second factor, its code."""
    client = Client()
    client.post("/accounts/login/", {"login": user.email, "password": PASSWORD})
    if secret:
        client.post("/accounts/2fa/authenticate/", {"code": code(secret)})
    return client


def enrol(client: Client) -> Any:
    """Confirms the password, then sets up an authenticator app: the last answer."""
    client.post("/accounts/reauthenticate/", {"password": PASSWORD})
    client.get("/accounts/2fa/totp/activate/")
    secret = client.session["mfa.totp.secret"]
    return client.post("/accounts/2fa/totp/activate/", {"code": code(secret)})


@pytest.fixture
def required(settings: Any) -> None:
    """As in production: instructors and admins need a second factor."""
    settings.SECOND_FACTOR_REQUIRED = True


@pytest.fixture
def ilse(db: None) -> User:
    """An instructor with a password."""
    return make_instructor(password=PASSWORD, email="ilse@rowanmere.example").user


def test_a_session_that_did_not_pass_the_second_factor_reaches_nothing(
    ilse: User, required: None
) -> None:
    """That the account has a factor is not enough: the session gives its code first, and is then
    let in.

    Source: OWASP ASVS 5.0, 6.3 and 7.5.

    Source: OWASP ASVS 5.0.0, V6.3.3.
    """
    secret = with_factor(ilse)
    client = as_user(ilse)
    for address in ("/hours/", "/me/", "/", ENROL, "/accounts/2fa/totp/deactivate/"):
        answer = client.get(address)
        assert answer.status_code == 302, address
        assert answer.url.startswith(PASS), address
    page = text_of(client.get(PASS))
    assert "code" in page
    answer = client.post(f"{PASS}?next=/hours/", {"code": code(secret), "next": "/hours/"})
    assert answer.url == "/hours/"
    assert client.get("/hours/").status_code == 200


def test_signing_in_with_the_code_is_enough(ilse: User, required: None) -> None:
    """Whoever gives password and code at sign-in is asked for no more, on the pages and over the
    API.
    """
    client = signed_in(ilse, with_factor(ilse))
    assert client.get("/hours/").status_code == 200
    assert client.get("/api/v1/me/").status_code == 200


def test_a_session_without_the_code_may_sign_out(ilse: User, required: None) -> None:
    """Nobody is shut in."""
    with_factor(ilse)
    client = as_user(ilse)
    assert client.get("/accounts/logout/").status_code == 200
    client.post("/accounts/logout/")
    assert client.get("/me/").url.startswith("/accounts/login/")


def test_the_api_answers_such_a_session_with_a_problem(ilse: User, required: None) -> None:
    """A page's session that lacks the code is told so in the API's own words, whether there is a
    factor or not.
    """
    client = as_user(ilse)
    for _ in range(2):
        answer = client.get("/api/v1/me/")
        assert answer.status_code == 401
        assert answer.headers["Content-Type"] == "application/problem+json"
        assert "second factor" in answer.json()["detail"]
        with_factor(ilse) if not Authenticator.objects.exists() else None


def test_students_are_not_asked(school: School, required: None) -> None:
    """The rule is for those who read other families' records."""
    assert as_user(school.noor.user).get("/my-lessons/").status_code == 200
    assert is_let_in(token_of(school.noor.user))


def test_a_token_from_before_the_second_factor_does_not_count(ilse: User, required: None) -> None:
    """A token counts if its maker had a factor then, for signing in asks for its code."""
    before = token_of(ilse)
    assert not is_let_in(before)
    with_factor(ilse)
    assert not is_let_in(before)
    assert is_let_in(token_of(ilse))
    Authenticator.objects.all().delete()
    assert not is_let_in(before)


def test_a_role_that_was_given_by_other_ways_opens_no_session_or_token(
    school: School, required: None
) -> None:
    """Also where a row was written by hand, what was signed in without a second factor stays out of
    the new role.
    """
    browser, token = as_user(school.noor.user), token_of(school.noor.user)
    User.objects.filter(pk=school.noor.user_id).update(is_staff=True, is_superuser=True)
    assert browser.get("/office/").url == ENROL
    assert not is_let_in(token)


@committed
def test_enrolling_ends_every_other_session_and_all_tokens(db: None, required: None) -> None:
    """The browser that enrolled goes on and counts as having passed; whatever was signed in before
    is out.

    Source: OWASP ASVS 5.0.0, V7.4.3.
    """
    dag = make_admin(password=PASSWORD, email="dag@rowanmere.example")
    here, elsewhere, token = signed_in(dag), signed_in(dag), token_of(dag)
    other = make_user("Somebody Else", password=PASSWORD)
    kept, kept_token = signed_in(other), token_of(other)
    assert here.get("/people/").url == ENROL
    assert enrol(here).status_code == 302
    assert here.get("/people/").status_code == 200
    assert elsewhere.get("/people/").url.startswith("/accounts/login/")
    assert not is_let_in(token)
    assert reads_me(kept)
    assert is_let_in(kept_token)


@committed
def test_taking_the_factor_away_closes_the_pages_at_once(db: None, required: None) -> None:
    """That the session once passed a factor which is no more does not count: a new one is set up
    first.
    """
    dag = make_admin(password=PASSWORD, email="dag@rowanmere.example")
    here = signed_in(dag)
    enrol(here)
    here.post("/accounts/2fa/totp/deactivate/")
    assert not Authenticator.objects.exists()
    assert here.get("/people/").url == ENROL
    assert here.get("/api/v1/me/").status_code == 401


@committed
def test_making_new_recovery_codes_ends_nothing(db: None, required: None) -> None:
    """Only a new factor does: whoever makes new codes stays signed in elsewhere."""
    dag = make_admin(password=PASSWORD, email="dag@rowanmere.example")
    here = signed_in(dag)
    enrol(here)
    token = token_of(dag)
    here.post("/accounts/2fa/recovery-codes/generate/")
    assert here.get("/people/").status_code == 200
    assert is_let_in(token)


@committed
def test_an_instructor_who_resets_the_password_first_can_still_enrol(
    ilse: User, required: None
) -> None:
    """No address has to be verified: people come by invitation to their own, and the library knows
    no other.
    """
    client = Client()
    client.post("/accounts/password/reset/", {"email": ilse.email})
    assert "/password/reset/key/" in OutboxMessage.objects.get().body
    here = signed_in(ilse)
    answer = enrol(here)
    assert "/accounts/2fa/recovery-codes/" in answer.url
    assert here.get("/hours/").status_code == 200
    assert not EmailAddress.objects.exists()


def test_authorisation_matrix_of_a_session_without_its_second_factor(
    school: School, required: None
) -> None:
    """Every page leads an instructor's and an admin's session that gave no code to the factor, and
    a POST changes nothing.
    """
    places = addresses(school)
    for user in (school.ilse.user, school.dag):
        for has_a_factor in (False, True):
            if has_a_factor:
                with_factor(user)
            client, before = as_user(user), snapshot()
            for name, address in places.items():
                for answer in (client.get(address), client.post(address, {"reason": "x"})):
                    assert answer.status_code == 302, name
                    assert answer.url.startswith(PASS if has_a_factor else ENROL), name
            assert snapshot() == before


def test_authorisation_matrix_of_a_session_older_than_a_new_role(school: School) -> None:
    """Every page asks a browser from before its owner became an admin to sign in again."""
    browser, places = as_user(school.hedda), addresses(school)
    invite(actor=school.dag, email=school.hedda.email, name="Hedda", as_admin=True, now=NOW)
    secret = secret_of("welcome").split("/")[2]
    come_in(secret=secret, name="Hedda", time_zone="Australia/Sydney", password="", now=NOW)
    before = snapshot()
    for name, address in places.items():
        for answer in (browser.get(address), browser.post(address, {"reason": "x"})):
            assert answer.status_code == 405 or answer.url.startswith("/accounts/login/"), name
    assert snapshot() == before
