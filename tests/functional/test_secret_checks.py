"""Every address that checks a password, a code or a secret, with the limit it has: a new one that
is not listed fails here.

Sources: OWASP Authentication Cheat Sheet (throttling); RFC 6749 section 10.10 (a secret of 128 bits
or more is not guessed).
"""

import ast
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.tokens import default_token_generator
from django.test import Client
from knox.settings import CONSTANTS
from rest_framework.permissions import AllowAny

from accounts.models import User, new_secret
from tests.architecture.tree import parsed, python_files
from tests.cast import PASSWORD, make_admin
from tests.functional.guessing import (
    CODE,
    at_the_code,
    network,
    on_the_page,
    over_the_api,
    second_factor,
    waits,
)
from tests.functional.routes import Route, every_route

Try = Callable[[int], Any]
TRIES = 60
pytestmark = [pytest.mark.one_database, pytest.mark.usefixtures("counting")]


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return client


def posts(client: Client, path: str, **form: str) -> Try:
    """The n-th try, with another forged address each time."""
    return lambda number: client.post(path, form, HTTP_X_FORWARDED_FOR=network(number))


def password_page(dag: User) -> Try:
    return lambda number: on_the_page(dag.email, HTTP_X_FORWARDED_FOR=network(number))


def tokens(dag: User) -> Try:
    return lambda number: over_the_api(dag.email, HTTP_X_FORWARDED_FOR=network(number))


def code_page(dag: User) -> Try:
    second_factor(dag)
    return posts(at_the_code(dag), CODE, code="000000")


def password_again(dag: User) -> Try:
    return posts(signed_in(dag), "/accounts/reauthenticate/", password="guess")


def code_again(dag: User) -> Try:
    second_factor(dag)
    return posts(signed_in(dag), "/accounts/2fa/reauthenticate/", code="000000")


def old_password(dag: User) -> Try:
    new = {"password1": "another-fine-sentence", "password2": "another-fine-sentence"}
    return posts(signed_in(dag), "/accounts/password/change/", oldpassword="guess", **new)


def forgotten(dag: User) -> Try:
    return posts(Client(), "/accounts/password/reset/", email=dag.email)


def bearer(dag: User) -> Try:
    return lambda number: Client().delete(
        "/api/v1/tokens/current/",
        HTTP_AUTHORIZATION=f"Bearer {number:064x}",
        HTTP_X_FORWARDED_FOR=network(number),
    )


LIMITED: dict[str, Callable[[User], Try]] = {
    "accounts/login/": password_page,
    "api/v1/tokens/": tokens,
    "api/v1/tokens/current/": bearer,  # and with it every call that takes a token
    "accounts/2fa/authenticate/": code_page,
    "accounts/reauthenticate/": password_again,
    "accounts/2fa/reauthenticate/": code_again,
    "accounts/password/change/": old_password,
    "accounts/password/reset/": forgotten,  # checks nothing; an email a request
}
UNGUESSABLE = {
    "welcome/<str:secret>/",
    "consent/<str:secret>/",
    "new-address/<str:secret>/",
    "calendar/<str:secret>.ics",
    r"accounts/^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
    r"accounts/^confirm-email/(?P<key>[-:\w]+)/$",
}
"""The secret in the address has 128 bits or more: it is looked up, and guessing it is hopeless at
any rate."""
LEAD_AWAY = {"office/login/", "office/password_change/", "accounts/email/"}
"""Their checks stand at the pages' own addresses; these lead there."""
CHECK_NOTHING = {
    "programs/told/<int:webhook_id>/secret/",  # makes a new secret for an admin who is signed in
    "api/v1/webhooks/<id:pk>/renew-secret/",
    "accounts/logout/",
    "accounts/inactive/",
    "accounts/signup/",
    "accounts/confirm-email/",
    "accounts/password/set/",
    "accounts/password/reset/done/",
    "accounts/password/reset/key/done/",
    "accounts/login/code/confirm/",  # signing in by a mailed code is off
    "accounts/2fa/",
    "accounts/2fa/totp/activate/",  # a code of the secret that the same page shows
    "accounts/2fa/totp/deactivate/",
    "accounts/2fa/recovery-codes/",
    "accounts/2fa/recovery-codes/generate/",
    "accounts/2fa/recovery-codes/download/",
    "office/logout/",
    "office/password_change/done/",
    "api/schema/",
    "api/docs/",
    "api/problems/<slug:code>/",
    "api/",
}


def is_a_way_in(route: Route) -> bool:
    """Whether it may check who somebody is: the account library's, the office's own, with a secret
    in it, or open to all in the API."""
    made_by = getattr(route.view, "cls", None)
    is_open = made_by is not None and AllowAny in made_by.permission_classes
    return (
        is_open
        or route.pattern.startswith(
            ("accounts/", "office/log", "office/password", "api/v1/tokens/")
        )
        or any(word in route.pattern for word in ("secret", "key"))
    )


@pytest.fixture
def dag() -> User:
    return make_admin(password=PASSWORD, email="dag@rowanmere.example")


def test_every_way_in_is_listed() -> None:
    """A new address of that kind is judged here before it is served.

    Source: OWASP ASVS 5.0.0, V6.3.4.
    """
    listed = {*LIMITED, *UNGUESSABLE, *LEAD_AWAY, *CHECK_NOTHING}
    assert {route.pattern for route in every_route() if is_a_way_in(route)} == listed


@pytest.mark.django_db
@pytest.mark.parametrize("pattern", LIMITED)
def test_sixty_guesses_meet_the_limit(dag: User, pattern: str) -> None:
    """From one caller with sixty forged addresses; 429 says when to come again."""
    one_try = LIMITED[pattern](dag)
    answers = [one_try(number) for number in range(TRIES + 1)]
    assert not waits(answers[0])
    assert waits(answers[-1]), (answers[-1].status_code, answers[-1].headers)


@pytest.mark.django_db
@pytest.mark.parametrize("pattern", sorted(LEAD_AWAY))
def test_the_others_lead_to_the_pages_own(dag: User, pattern: str) -> None:
    """Nothing is checked there, whoever asks and whatever they send."""
    form = {"username": dag.email, "password": PASSWORD, "old_password": PASSWORD}
    for client in (Client(), signed_in(dag)):
        for answer in (client.get(f"/{pattern}"), client.post(f"/{pattern}", form)):
            assert answer.status_code == 302
            assert answer["Location"].startswith(("/accounts/", "/me/", "/office/"))


@pytest.mark.django_db
def test_secrets_are_too_long_to_guess(dag: User) -> None:
    """Ours have 256 random bits, as tokens have; the reset's key is 128 bits of an HMAC.

    Source: OWASP ASVS 5.0.0, V7.2.3.
    """
    assert len(new_secret()) >= 43 and CONSTANTS.TOKEN_KEY_LENGTH > 0
    assert len(over_the_api(dag.email, PASSWORD).json()["token"]) * 4 >= 256
    assert len(default_token_generator.make_token(dag).partition("-")[2]) * 4 >= 128


def test_whoever_checks_a_password_counts_it() -> None:
    """In our own code each check of a password or a code stands in a `with guesses.at_...`."""
    loose = [
        f"{path}:{call.lineno}"
        for path in python_files("accounts", "bookings", "config")
        for call in _uncounted(parsed(path), counted=False)
    ]
    assert loose == []
    control = "def sign_in():\n    authenticate(request, email=email)\n"
    assert len(list(_uncounted(ast.parse(control), counted=False))) == 1


def _uncounted(node: ast.AST, *, counted: bool) -> list[ast.Call]:
    if isinstance(node, ast.With):
        names = [ast.unparse(item.context_expr) for item in node.items]
        counted = counted or any(name.startswith("guesses.at_") for name in names)
    found: list[ast.Call] = []
    if isinstance(node, ast.Call) and not counted:
        name = ast.unparse(node.func).rpartition(".")[2]
        is_token = ast.unparse(node.func) == "Bearer().authenticate"
        if name in {"authenticate", "check_password", "validate_code"} and not is_token:
            found.append(node)
    for child in ast.iter_child_nodes(node):
        found += _uncounted(child, counted=counted)
    return found
