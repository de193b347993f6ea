"""Two standing roles over every route of the API: a session without its second factor, and what is
older than a new role.
"""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from django.core.cache import cache
from django.test import Client
from knox.models import AuthToken

from accounts.models import User
from bookings.models import OutboxMessage
from bookings.operations.invitations import come_in, invite
from tests.cast import NOW
from tests.functional.api.client import V1, snapshot
from tests.functional.api.matrix import MATRIX
from tests.functional.api.world import World

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


def refusals(world: World, client: Client, **headers: str) -> Iterator[tuple[str, int]]:
    """What every route of the API answers to that browser or program."""
    for (verb, pattern), route in MATRIX.items():
        cache.clear()  # throttles are tested elsewhere
        answer = client.generic(
            verb,
            V1 + route.path(world),
            json.dumps(route.body(world)).encode(),
            content_type="application/json",
            headers={"If-Match": "*", **headers},
        )
        assert answer.headers["Content-Type"] == "application/problem+json", pattern
        yield f"{verb} {pattern}", answer.status_code


def signed_in(user: User) -> Client:
    """A browser in which that person signed in without a second factor."""
    client = Client()
    client.force_login(user, backend=BACKEND)
    return client


def given_role(world: World, user: User, role: str) -> None:
    """The person takes an invitation to be an instructor or an admin."""
    invite(actor=world.school.dag, email=user.email, name="N", now=NOW, **{role: True})
    secret = OutboxMessage.objects.filter(kind="welcome").latest("pk").body.split("/welcome/")[1]
    come_in(secret=secret.split("/")[0], name="N", time_zone="UTC", password="", now=NOW)


def everything_is_401(world: World, client: Client, **headers: str) -> None:
    """No route answers, and nothing is changed or queued."""
    for route in MATRIX.values():
        route.path(world)  # what a route makes is made before anything is counted
    before = snapshot()
    assert {status for _, status in refusals(world, client, **headers)} == {401}
    assert snapshot() == before


@pytest.mark.parametrize("has_a_factor", [False, True])
@pytest.mark.parametrize("role", ["teacher", "admin"])
def test_authorisation_matrix_of_a_session_without_its_second_factor(
    world: World, settings: Any, role: str, has_a_factor: bool
) -> None:
    """An instructor or admin whose session gave no code has no route, whether the account has a
    factor or not.
    """
    settings.SECOND_FACTOR_REQUIRED = True
    user = world.people()[role]
    assert user is not None
    if has_a_factor:
        TOTP.activate(user, generate_totp_secret())
    everything_is_401(world, signed_in(user))


@pytest.mark.parametrize("role", ["teacher", "admin"])
def test_authorisation_matrix_of_a_token_without_a_second_factor(
    world: World, settings: Any, role: str
) -> None:
    """A token that was given against a password alone has no route for an instructor or admin."""
    user = world.people()[role]
    token = AuthToken.objects.create(user)[1]
    settings.SECOND_FACTOR_REQUIRED = True
    everything_is_401(world, Client(), Authorization=f"Bearer {token}")


@pytest.mark.parametrize("required", [False, True])
@pytest.mark.parametrize("role", ["as_instructor", "as_admin"])
def test_authorisation_matrix_of_what_is_older_than_a_new_role(
    world: World, settings: Any, role: str, required: bool
) -> None:
    """The session and the token of a guardian who became an instructor or admin since have no route
    at all.
    """
    settings.SECOND_FACTOR_REQUIRED = required
    hedda = world.school.hedda
    session, token = signed_in(hedda), AuthToken.objects.create(hedda)[1]
    assert session.get(f"{V1}me/").status_code == 200
    given_role(world, hedda, role)
    everything_is_401(world, session)
    everything_is_401(world, Client(), Authorization=f"Bearer {token}")
