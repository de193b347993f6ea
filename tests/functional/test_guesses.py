"""Guessing is slow for strangers, whatever they write into their requests.

Sources: OWASP Authentication Cheat Sheet (login throttling by account), RFC 4226 section 7.3
(throttling of codes), RFC 6585 section 4 (429 and Retry-After).
"""

from typing import Any

import pytest
from django.core.cache import caches
from django.test import Client, override_settings

from accounts.models import User
from tests.cast import PASSWORD, make_user
from tests.functional.guessing import (
    CODE,
    at_the_code,
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
    """The right person comes in from another place, with a browser that is new to us.

    Source: OWASP ASVS 5.0.0, V6.3.1.
    """
    for _ in range(5):
        knock(noor.email, REMOTE_ADDR=network(1))
    assert is_in(knock(noor.email, PASSWORD, REMOTE_ADDR=network(2)))


@DOORS
def test_the_wait_is_over_when_it_said_so(noor: User, knock: Any, counting: Any) -> None:
    """Whoever waits as long as Retry-After says may try again."""
    answers = [knock(noor.email) for _ in range(7)]
    counting.shift(int(answers[-1]["Retry-After"]))
    assert is_in(knock(noor.email, PASSWORD))


@DOORS
def test_right_passwords_are_no_guesses(noor: User, knock: Any) -> None:
    """A family that signs in often is not held up."""
    assert all(is_in(knock(noor.email, PASSWORD)) for _ in range(8))


@DOORS
def test_a_day_of_guessing_slows_down(noor: User, knock: Any, counting: Any) -> None:
    """An attack that goes on meets ever fewer tries a minute: one from a place, five at an
    account."""
    for minute in range(40):
        for i in range(12):
            knock(noor.email, REMOTE_ADDR=network(i + 12 * minute))
        counting.shift(61)
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


def test_the_page_says_what_to_do(noor: User) -> None:
    """429 is a page in the school's look, with what to do next."""
    for _ in range(6):
        answer = on_the_page(noor.email)
    page = answer.content.decode()
    assert waits(answer) and "<h1>Too many attempts</h1>" in page and "levare.css" in page
    assert "/accounts/password/reset/" in page


@pytest.mark.redis
def test_guesses_are_counted_in_redis(noor: User, settings: Any) -> None:
    """All processes count together, and each count is over after a minute of Redis's own clock."""
    shared = {"BACKEND": "config.caches.SharedCache", "LOCATION": settings.REDIS_URL}
    with override_settings(CACHES={"default": shared}):
        caches["default"].clear()
        answers = [on_the_page(noor.email) for _ in range(6)]
        assert [waits(answer) for answer in answers] == [False] * 5 + [True]
        redis = caches["default"]._shared._cache.get_client()
        lasting = {key: redis.ttl(key) for key in redis.keys("*guesses:*")}
        assert len(lasting) == 6
        for key, seconds in lasting.items():
            assert 0 < seconds <= (86400 if key.endswith(b":day") else 60)
        caches["default"].clear()
