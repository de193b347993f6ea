"""Guesses of a password or a code, as an attacker sends them: from one address, from many, with
forged headers."""

from collections.abc import Mapping
from typing import Any

from allauth.mfa.totp.internal.auth import (
    TOTP,
    format_hotp_value,
    generate_totp_secret,
    hotp_value,
    yield_hotp_counters_from_time,
)
from django.test import Client

from accounts.models import User
from tests.cast import PASSWORD

SIGN_IN, TOKENS, CODE = "/accounts/login/", "/api/v1/tokens/", "/accounts/2fa/authenticate/"
MOST_WAIT = 60
"""Seconds: nobody is sent away for longer."""


def network(number: int) -> str:
    """The address of the n-th caller: the block for benchmarks (RFC 2544), since the ones for
    examples are small."""
    return f"198.18.{number // 250}.{number % 250 + 1}"


def on_the_page(
    email: str, password: str = "guess", client: Client | None = None, **meta: Any
) -> Any:
    """One try on the sign-in page."""
    return (client or Client()).post(SIGN_IN, {"login": email, "password": password}, **meta)


def over_the_api(
    email: str, password: str = "guess", client: Client | None = None, code: str = "", **meta: Any
) -> Any:
    """One try at tokens/."""
    body = {"email": email, "password": password, **({"code": code} if code else {})}
    return (client or Client()).post(TOKENS, body, "application/json", **meta)


def second_factor(user: User) -> str:
    """Sets up a second factor and returns its secret."""
    secret = generate_totp_secret()
    TOTP.activate(user, secret)
    return secret


def code_now(secret: str) -> str:
    """What the person's own app shows."""
    return format_hotp_value(hotp_value(secret, next(iter(yield_hotp_counters_from_time()))))


def at_the_code(user: User, client: Client | None = None, **meta: Any) -> Client:
    """A browser that has passed the password and is asked for the code."""
    client = client or Client()
    answer = on_the_page(user.email, PASSWORD, client, **meta)
    assert (answer.status_code, answer["Location"]) == (302, CODE), answer.content
    return client


def waits(answer: Any) -> bool:
    """Whether this refusal says how long to wait, and that it is not long."""
    headers: Mapping[str, str] = answer.headers
    return answer.status_code == 429 and 1 <= int(headers.get("Retry-After", 0)) <= MOST_WAIT


def is_in(answer: Any) -> bool:
    """Whether it let somebody in."""
    return answer.status_code in (201, 302)
