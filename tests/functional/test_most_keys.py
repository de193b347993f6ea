"""A person has at most ten API tokens and twenty open calendar addresses: each is a key somebody
may lose.

Source: OWASP API4:2023, unrestricted resource consumption; the figures are common practice.
"""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.test import Client
from knox.models import AuthToken

from accounts.models import User
from bookings.models import Feed
from tests.cast import NOW, PASSWORD, make_user
from tests.functional.guessing import over_the_api
from tests.functional.pages.school import as_user
from tests.integration.test_tasks import together


@pytest.fixture(autouse=True)
def clock(settings: Any) -> Any:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    cache.clear()
    with time_machine.travel(NOW, tick=True) as hands:
        yield hands


@pytest.fixture
def noor() -> User:
    return make_user("Noor Ashgrove", password=PASSWORD, email="noor@rowanmere.example")


def open_over_the_api(user: User) -> Any:
    """One more address, over the API."""
    return as_user(user).post("/api/v1/feeds/", {"name": "Phone"}, "application/json")


def open_on_the_page(user: User) -> Any:
    """One more address, on the page."""
    return as_user(user).post("/calendars/", {"label": "Phone"})


def with_tokens(user: User, number: int, **changes: Any) -> None:
    for _ in range(number):
        AuthToken.objects.create(user)
    AuthToken.objects.filter(user=user).update(**changes) if changes else None


def with_feeds(user: User, number: int) -> None:
    for i in range(number):
        Feed.objects.create(
            owner=user, label=str(i), secret_digest=f"{i:064}", revised_at=NOW, opened_at=NOW
        )


@pytest.mark.django_db
def test_an_eleventh_token_is_refused(noor: User) -> None:
    """With what to do about it; signing out with one of them makes room."""
    with_tokens(noor, 9)
    token = over_the_api(noor.email, PASSWORD).json()["token"]
    refused = over_the_api(noor.email, PASSWORD)
    assert (refused.status_code, refused.json()["code"]) == (409, "limit-reached")
    assert "ten API tokens" in refused.json()["detail"]
    bearer = {"HTTP_AUTHORIZATION": f"Bearer {token}"}
    assert Client().delete("/api/v1/tokens/current/", **bearer).status_code == 204
    assert over_the_api(noor.email, PASSWORD).status_code == 201


@pytest.mark.django_db
def test_tokens_that_are_over_do_not_count(noor: User) -> None:
    """They go when the next one is made."""
    with_tokens(noor, 10, expiry=NOW - timedelta(days=1))
    assert over_the_api(noor.email, PASSWORD).status_code == 201
    assert AuthToken.objects.filter(user=noor).count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize("opening", [open_over_the_api, open_on_the_page])
def test_a_twenty_first_address_is_refused(noor: User, opening: Any) -> None:
    """On page and API alike, in the same sentence; revoking one makes room."""
    with_feeds(noor, 20)
    refused = opening(noor)
    assert refused.status_code == 409
    assert "twenty calendar addresses" in refused.content.decode()
    assert Feed.objects.count() == 20
    Feed.objects.filter(label="7").update(revoked_at=NOW)
    assert opening(noor).status_code in (201, 302)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_at_once_do_not_both_get_the_last(noor: User) -> None:
    """The person is locked before anything is counted."""
    with_tokens(noor, 9)
    with_feeds(noor, 19)
    for key in (lambda: over_the_api(noor.email, PASSWORD), lambda: open_over_the_api(noor)):
        together(*[key] * 6)
    assert AuthToken.objects.filter(user=noor).count() == 10
    assert Feed.objects.filter(owner=noor, revoked_at__isnull=True).count() == 20
