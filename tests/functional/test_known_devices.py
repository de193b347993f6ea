"""Whoever has signed in with a device before comes in with it, whatever strangers try meanwhile.

Source: OWASP, "Slow Down Online Guessing Attacks with Device Cookies".
"""

import re
from typing import Any

import pytest
from django.core import signing
from django.test import Client

from accounts.devices import account_of
from accounts.models import User
from bookings.models import OutboxMessage
from tests.cast import PASSWORD, make_user
from tests.functional.guessing import (
    CODE,
    at_the_code,
    code_now,
    is_in,
    network,
    on_the_page,
    over_the_api,
    second_factor,
    waits,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("counting")]
DOORS = pytest.mark.parametrize("knock", [on_the_page, over_the_api])


@pytest.fixture
def noor() -> User:
    return make_user("Noor Ashgrove", password=PASSWORD, email="noor@rowanmere.example")


@pytest.fixture
def noors(noor: User) -> Client:
    """Noor's own browser: they have signed in with it and out again."""
    client = Client()
    assert on_the_page(noor.email, PASSWORD, client).status_code == 302
    client.post("/accounts/logout/")
    return client


@DOORS
def test_a_known_device_passes_by_an_attack(noors: Client, noor: User, knock: Any) -> None:
    """While strangers guess from everywhere, also from the person's own network, their own browser
    comes in."""
    for i in range(60):
        knock(noor.email, REMOTE_ADDR=network(i // 2))
    for _ in range(70):
        knock(noor.email, REMOTE_ADDR="127.0.0.1")
    assert waits(knock(noor.email, PASSWORD))
    assert is_in(knock(noor.email, PASSWORD, noors))


@DOORS
def test_a_known_device_is_slowed_by_itself(noors: Client, noor: User, knock: Any) -> None:
    """A stolen browser guesses no faster than others, and uses up nobody else's tries."""
    answers = [knock(noor.email, client=noors) for _ in range(20)]
    assert sum(not waits(answer) for answer in answers) == 5
    assert is_in(knock(noor.email, PASSWORD))


@DOORS
def test_a_device_is_known_for_its_own_people_only(noors: Client, noor: User, knock: Any) -> None:
    """An attacker with an account of their own is a stranger at every other account."""
    other = make_user("Marlo Vance", password=PASSWORD, email="marlo@rowanmere.example")
    for i in range(60):
        knock(other.email, REMOTE_ADDR=network(i))
    assert waits(knock(other.email, client=noors, REMOTE_ADDR=network(99)))


def test_a_forged_device_is_no_device(noor: User) -> None:
    """The cookie is signed: what a caller makes up, or takes from elsewhere, is worth nothing."""
    stranger = Client()
    stranger.cookies["device"] = "eyJub25jZSI6ICJ4In0:made-up"
    answers = [on_the_page(noor.email, client=stranger) for _ in range(20)]
    assert sum(not waits(answer) for answer in answers) == 5


def test_the_devices_cookie(noor: User) -> None:
    """Not for scripts, long-lived, and it names nobody (RFC 6265 section 4.1.2)."""
    client = Client()
    on_the_page(noor.email, PASSWORD, client)
    cookie = client.cookies["device"]
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and cookie["path"] == "/"
    assert int(cookie["max-age"]) > 300 * 86400
    number, *accounts = signing.loads(cookie.value, salt="accounts.devices")
    assert len(number) >= 22  # 128 bits
    assert accounts == [account_of(noor.email)] and "noor" not in accounts[0]


def test_a_family_shares_a_browser(noor: User, noors: Client) -> None:
    """A second person's sign-in does not make the first a stranger."""
    posy = make_user("Posy Reed", password=PASSWORD, email="posy@rowanmere.example")
    assert is_in(on_the_page(posy.email, PASSWORD, noors))
    noors.post("/accounts/logout/")
    for i in range(60):
        on_the_page(noor.email, REMOTE_ADDR=network(i))
    assert is_in(on_the_page(noor.email, PASSWORD, noors))


def test_a_valid_token_makes_a_known_client(noor: User) -> None:
    """A program that holds a good token of the same person is not a stranger when it asks for the
    next one."""
    token = over_the_api(noor.email, PASSWORD).json()["token"]
    for i in range(60):
        over_the_api(noor.email, REMOTE_ADDR=network(i))
    assert waits(over_the_api(noor.email, PASSWORD))
    bearer = {"HTTP_AUTHORIZATION": f"Bearer {token}"}
    assert is_in(over_the_api(noor.email, PASSWORD, **bearer))
    assert waits(over_the_api(noor.email, PASSWORD, HTTP_AUTHORIZATION="Bearer made-up"))


def test_a_known_device_enters_its_code_during_an_attack(noors: Client, noor: User) -> None:
    """Wrong codes of a thief use up the strangers' tries only."""
    secret = second_factor(noor)
    thief = at_the_code(noor, REMOTE_ADDR=network(1))
    for i in range(10):
        thief.post(CODE, {"code": f"{i:06}"}, REMOTE_ADDR=network(1))
    assert waits(at_the_code(noor).post(CODE, {"code": code_now(secret)}))
    assert is_in(at_the_code(noor, noors).post(CODE, {"code": code_now(secret)}))


def test_a_reset_by_email_makes_the_device_known(noor: User) -> None:
    """Whoever reads the account's email can always come in, whatever strangers do."""
    client = Client()
    client.post("/accounts/password/reset/", {"email": noor.email})
    address = re.search(
        r"/accounts/password/reset/key/\S+", OutboxMessage.objects.get(kind="password-reset").body
    )[0]
    form = client.get(address, follow=True)
    new = "another-fine-sentence"
    client.post(form.request["PATH_INFO"], {"password1": new, "password2": new})
    for i in range(60):
        on_the_page(noor.email, REMOTE_ADDR=network(i))
    assert waits(on_the_page(noor.email, new)) and is_in(on_the_page(noor.email, new, client))
