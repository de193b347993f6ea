"""Redis goes away: what leans on the cache goes on without it, and who counts goes on counting."""

import os
import threading
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import caches
from django.test import Client, override_settings
from structlog.testing import capture_logs

from bookings import clock
from bookings.operations.subscriptions import open_feed
from config import caches as house_caches
from tests import cast

pytestmark = pytest.mark.django_db
NOBODY = "redis://127.0.0.1:1/0"  # nothing listens on port 1 (tcpmux)


@pytest.fixture(autouse=True)
def redis_is_away() -> Iterator[None]:
    """The production cache with an address where nobody answers."""
    with override_settings(
        CACHES={"default": {"BACKEND": "config.caches.SharedCache", "LOCATION": NOBODY}}
    ):
        caches["default"].clear()
        house_caches.link.forget()
        yield
        caches["default"].clear()
        house_caches.link.forget()


@pytest.fixture
def consultation() -> Any:
    cast.make_policy(in_force_from=clock.now() - timedelta(days=400))
    offering = cast.make_offering()
    ilse = cast.make_instructor()
    cast.teaches(ilse, offering)
    cast.publish(ilse, cast.EVERY_DAY)
    return offering


def test_slots_are_found_without_the_cache(consultation: Any) -> None:
    """The search works hours out anew where they cannot be kept, and says so only once."""
    user = cast.make_student().user
    assert user is not None
    client = Client()
    client.force_login(user)
    with capture_logs() as lines:
        answers = [client.get(f"/api/v1/slots/?offering={consultation.pk}") for _ in range(3)]
    assert {answer.status_code for answer in answers} == {200}
    assert answers[0].json()["results"]
    assert [line["event"] for line in lines if "cache" in line["event"]] == [
        "the shared cache is away"
    ]
    assert NOBODY not in str(lines)


def test_a_feed_is_served_without_the_cache() -> None:
    """A subscribed calendar gets its bytes."""
    user = cast.make_user()
    secret = open_feed(actor=user, label="Phone", now=clock.now())[1]
    assert Client().get(f"/calendar/{secret}.ics").status_code == 200


def test_sign_in_is_still_counted() -> None:
    """Guessing passwords stays slow: each process counts for itself while nothing is shared."""
    guesses = [
        Client().post(
            "/api/v1/tokens/",
            {"email": "a@rowanmere.example", "password": f"guess {i}"},
            "application/json",
        )
        for i in range(12)
    ]
    assert guesses[0].status_code == 401
    assert guesses[-1].status_code == 429


def test_a_page_sign_in_is_still_counted() -> None:
    """The sign-in page counts failures too, and answers instead of breaking."""
    user = cast.make_user()
    guesses = [
        Client()
        .post("/accounts/login/", {"login": user.email, "password": f"guess {i}"})
        .status_code
        for i in range(12)
    ]
    assert guesses[0] == 200
    assert (
        guesses[-1] == 429
        or b"Too many"
        in Client().post("/accounts/login/", {"login": user.email, "password": "guess"}).content
    )


def test_a_count_is_not_pushed_out() -> None:
    """A process's own memory has room for more than an attacker's other guesses."""
    user = cast.make_user()
    for _ in range(6):
        Client().post("/accounts/login/", {"login": user.email, "password": "guess"})
    for i in range(2000):
        caches["default"].set(f"other:{i}", i, 60)
    last = Client().post("/accounts/login/", {"login": user.email, "password": "guess"})
    assert last.status_code == 429


class Shared:
    """Stands for Redis: notes which thread asked it, and answers once it is back."""

    def __init__(self) -> None:
        self.asked_by: list[str] = []
        self.is_back = threading.Event()

    def get(self, *_: object, **__: object) -> str:
        self.asked_by.append(threading.current_thread().name)
        if not self.is_back.is_set():
            raise OSError("away")
        return "kept there"

    def clear(self) -> None:
        """Nothing is kept."""


@pytest.fixture
def shared(monkeypatch: pytest.MonkeyPatch) -> Shared:
    standing = Shared()
    monkeypatch.setattr(house_caches, "ASK_AGAIN_SECONDS", 0.01)
    monkeypatch.setattr(caches["default"], "_shared", standing)
    return standing


def wait_until(there: Callable[[], bool]) -> None:
    until = time.monotonic() + 30
    while not there():
        assert time.monotonic() < until
        time.sleep(0.01)


def test_no_request_asks_a_dead_address_twice(shared: Shared) -> None:
    """The first call finds it away; from then on one thread asks, and no other call waits for a
    connection.
    """
    cache = caches["default"]
    for _ in range(5):
        cache.get("x")
    wait_until(lambda: len(shared.asked_by) >= 4)
    assert shared.asked_by[0] == threading.current_thread().name
    assert set(shared.asked_by[1:]) == {"cache"}


def test_its_return_is_told_and_used(shared: Shared) -> None:
    """When it answers again it is used again; both are told, once."""
    cache = caches["default"]
    with capture_logs() as lines:
        assert cache.get("x") is None
        shared.is_back.set()
        wait_until(lambda: cache.get("x") == "kept there")
    assert [line["event"] for line in lines] == [
        "the shared cache is away",
        "the shared cache is back",
    ]


def test_a_forked_process_asks_for_itself(shared: Shared) -> None:
    """The thread that waits for Redis stays with the parent: a child does not believe for ever that
    it is away.
    """
    caches["default"].get("x")
    child = os.fork()
    if child == 0:
        os._exit(0 if house_caches.link.is_up else 1)
    assert os.waitpid(child, 0)[1] == 0
    assert not house_caches.link.is_up


def test_a_rate_is_one_rate_for_all_threads() -> None:
    """What a process counts meanwhile is shared by its threads, each of which has a cache object of
    its own.
    """
    caches["default"].set("count", 1)
    seen: list[Any] = []
    thread = threading.Thread(target=lambda: seen.append(caches["default"].get("count")))
    thread.start()
    thread.join()
    assert seen == [1]


@pytest.mark.redis
def test_it_is_the_shared_one_where_it_answers(settings: Any) -> None:
    """Where Redis answers, what one process keeps another finds: both speak to the same place."""
    with override_settings(
        CACHES={"default": {"BACKEND": "config.caches.SharedCache", "LOCATION": settings.REDIS_URL}}
    ):
        caches["default"].set_many({"a": 1, "b": b"two"}, 60)
        assert caches["default"]._shared.get_many(["a", "b"]) == {"a": 1, "b": b"two"}
        assert caches["default"].incr("a") == 2
        assert caches["default"].get_or_set("c", 3, 60) == 3
        caches["default"].delete_many(["a", "b", "c"])
        assert caches["default"]._own.get("a") is None
