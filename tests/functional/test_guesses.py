"""Guessing is slow for strangers, and never keeps the right person out.

Sources: OWASP Authentication Cheat Sheet (login throttling by account), OWASP "Slow Down Online
Guessing Attacks with Device Cookies", RFC 4226 section 7.3 (throttling of codes), RFC 6585 section
4 (429 and Retry-After).
"""

import re
from typing import Any

import pytest
import time_machine
from django.core import mail, signing
from django.core.cache import cache
from django.test import Client

from accounts.devices import account_of
from accounts.models import User
from tests.cast import NOW, PASSWORD, make_user
from tests.functional.guessing import (
    CODE,
    at_the_code,
    code_now,
    network,
    on_the_page,
    over_the_api,
    second_factor,
    waits,
)

pytestmark = pytest.mark.django_db
DOORS = pytest.mark.parametrize("knock", [on_the_page, over_the_api])


@pytest.fixture(autouse=True)
def clock(settings: Any) -> Any:
    """A clock that moves when it is told to, and passwords that are quick to check: guesses are
    many here."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    cache.clear()
    with time_machine.travel(NOW, tick=False) as hands:
        yield hands


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


def is_in(answer: Any) -> bool:
    return answer.status_code in (201, 302)


@DOORS
def test_forged_addresses_are_one_address(noor: User, knock: Any) -> None:
    """Sixty guesses, each with another X-Forwarded-For: without a trusted proxy the header says
    nothing."""
    answers = [knock(noor.email, HTTP_X_FORWARDED_FOR=network(i)) for i in range(60)]
    assert waits(answers[-1])
    assert sum(not waits(answer) for answer in answers) <= 5


@DOORS
def test_forged_addresses_behind_a_trusted_proxy(noor: User, knock: Any, settings: Any) -> None:
    """The proxy adds the address it saw at the right; whatever the caller wrote stands to the left
    of it."""
    settings.TRUSTED_PROXIES = 1
    forged = (f"{network(i)}, 203.0.113.9" for i in range(60))
    answers = [knock(noor.email, HTTP_X_FORWARDED_FOR=told) for told in forged]
    assert waits(answers[-1])
    assert sum(not waits(answer) for answer in answers) <= 5


@DOORS
@pytest.mark.parametrize("email", ["noor@rowanmere.example", "nobody@rowanmere.example"])
def test_many_addresses_are_slowed_by_account(noor: User, knock: Any, email: str) -> None:
    """Sixty guesses from sixty networks: the account itself is guessed at seldom, whether there is
    one or not."""
    answers = [knock(email, REMOTE_ADDR=network(i)) for i in range(60)]
    assert waits(answers[-1])
    assert sum(not waits(answer) for answer in answers) == 20


@DOORS
def test_one_address_is_slowed_over_all_accounts(noor: User, knock: Any) -> None:
    """One guess at each of sixty accounts, from one place."""
    answers = [knock(f"pupil{i}@rowanmere.example") for i in range(60)]
    assert waits(answers[-1])
    assert sum(not waits(answer) for answer in answers) == 10


@DOORS
def test_a_network_of_version_6_is_one_caller(noor: User, knock: Any) -> None:
    """Whoever has one IPv6 address has 2^64 of them (RFC 6177): the network is counted."""
    answers = [knock(noor.email, REMOTE_ADDR=f"2001:db8:0:7::{i:x}") for i in range(1, 30)]
    assert sum(not waits(answer) for answer in answers) == 5


@DOORS
def test_spelling_is_no_way_round(noor: User, knock: Any) -> None:
    """Capitals and blanks name the same account, so they are counted as one."""
    spelt = [noor.email, noor.email.upper(), f" {noor.email} ", noor.email.title()]
    answers = [knock(spelt[i % 4], REMOTE_ADDR=network(i)) for i in range(60)]
    assert sum(not waits(answer) for answer in answers) == 20


@DOORS
def test_a_host_header_is_no_way_round(noor: User, knock: Any) -> None:
    """A port or capitals in the Host header, which Django lets through, made a new count for the
    account library."""
    hosts = [f"localhost:{port}" for port in range(8000, 8030)] + ["LocalHost"] * 30
    answers = [
        knock(noor.email, HTTP_HOST=host, REMOTE_ADDR=network(i)) for i, host in enumerate(hosts)
    ]
    assert waits(answers[-1])


@DOORS
def test_five_wrong_guesses_by_a_stranger_keep_nobody_out(noor: User, knock: Any) -> None:
    """The right person comes in from another place, with a browser that is new to us."""
    for _ in range(5):
        knock(noor.email, REMOTE_ADDR=network(1))
    assert is_in(knock(noor.email, PASSWORD, REMOTE_ADDR=network(2)))


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


@DOORS
def test_the_wait_is_over_when_it_said_so(noor: User, knock: Any, clock: Any) -> None:
    """Whoever waits as long as Retry-After says may try again."""
    answers = [knock(noor.email) for _ in range(7)]
    clock.shift(int(answers[-1]["Retry-After"]))
    assert is_in(knock(noor.email, PASSWORD))


@DOORS
def test_right_passwords_are_no_guesses(noor: User, knock: Any) -> None:
    """A family that signs in often is not held up."""
    assert all(is_in(knock(noor.email, PASSWORD)) for _ in range(8))


@DOORS
def test_a_day_of_guessing_slows_down(noor: User, knock: Any, clock: Any) -> None:
    """An attack that goes on meets ever fewer tries a minute: one from a place, five at an
    account."""
    for minute in range(40):
        for i in range(12):
            knock(noor.email, REMOTE_ADDR=network(i + 12 * minute))
        clock.shift(61)
    answers = [knock(noor.email, REMOTE_ADDR=network(9000 + i)) for i in range(40)]
    assert sum(not waits(answer) for answer in answers) == 5


def test_a_cache_that_keeps_nothing_lets_nobody_guess(noor: User, settings: Any) -> None:
    """Where nothing can be counted, guesses are refused: it neither breaks nor counts for ever."""
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}}
    assert waits(on_the_page(noor.email)) and waits(over_the_api(noor.email))


def test_wrong_tokens_are_slowed_by_address(noor: User) -> None:
    """A token cannot be guessed (256 bits, RFC 6749 section 10.10); trying costs look-ups, and a
    good one still serves beside it."""
    token = over_the_api(noor.email, PASSWORD).json()["token"]

    def ask(bearer: str) -> Any:
        return Client().get("/api/v1/me/", HTTP_AUTHORIZATION=f"Bearer {bearer}")

    answers = [ask(f"{i:064x}") for i in range(61)]
    assert answers[0].status_code == 401 and waits(answers[-1])
    assert ask(token).status_code == 200


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


def test_codes_on_the_page_are_slowed(noor: User) -> None:
    """Somebody who has the password still cannot try codes: thirty, each from another place."""
    second_factor(noor)
    client = at_the_code(noor)
    answers = [
        client.post(
            CODE, {"code": f"{i:06}"}, REMOTE_ADDR=network(i), HTTP_X_FORWARDED_FOR=network(i)
        )
        for i in range(30)
    ]
    assert sum(not waits(answer) for answer in answers) == 5
    assert "Too many" in answers[-1].content.decode()


def test_codes_over_the_api_are_slowed(noor: User) -> None:
    """The same at tokens/."""
    second_factor(noor)
    answers = [
        over_the_api(noor.email, PASSWORD, code=f"{i:06}", REMOTE_ADDR=network(i))
        for i in range(30)
    ]
    assert sum(not waits(answer) for answer in answers) == 5


def test_a_known_device_enters_its_code_during_an_attack(noors: Client, noor: User) -> None:
    """Wrong codes of a thief use up the strangers' tries only."""
    secret = second_factor(noor)
    thief = at_the_code(noor, REMOTE_ADDR=network(1))
    for i in range(10):
        thief.post(CODE, {"code": f"{i:06}"}, REMOTE_ADDR=network(1))
    assert waits(at_the_code(noor).post(CODE, {"code": code_now(secret)}))
    assert is_in(at_the_code(noor, noors).post(CODE, {"code": code_now(secret)}))


def test_the_page_says_what_to_do(noor: User) -> None:
    """429 is a page in the school's look, with what to do next."""
    for _ in range(6):
        answer = on_the_page(noor.email)
    page = answer.content.decode()
    assert waits(answer) and "<h1>Too many attempts</h1>" in page and "levare.css" in page
    assert "/accounts/password/reset/" in page


def test_a_reset_by_email_makes_the_device_known(noor: User) -> None:
    """Whoever reads the account's email can always come in, whatever strangers do."""
    client = Client()
    client.post("/accounts/password/reset/", {"email": noor.email})
    address = re.search(r"/accounts/password/reset/key/\S+", mail.outbox[-1].body)[0]
    form = client.get(address, follow=True)
    new = "another-fine-sentence"
    client.post(form.request["PATH_INFO"], {"password1": new, "password2": new})
    for i in range(60):
        on_the_page(noor.email, REMOTE_ADDR=network(i))
    assert waits(on_the_page(noor.email, new)) and is_in(on_the_page(noor.email, new, client))
