"""A count ends with its time, also where the time ends between two commands that Redis is sent: one
that never ended would keep a person out for good.
"""

from collections.abc import Iterator
from typing import Any

import pytest
import redis
from django.conf import settings
from django.core.cache import cache, caches
from django.test import override_settings

from accounts import counts

pytestmark = pytest.mark.redis
KEY = "test-counts-end"


@pytest.fixture(autouse=True)
def kept_in_redis() -> Iterator[None]:
    with override_settings(
        CACHES={"default": {"BACKEND": "config.caches.SharedCache", "LOCATION": settings.REDIS_URL}}
    ):
        cache.delete(KEY)
        yield
        cache.delete(KEY)


@pytest.fixture
def ends_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    """The key's time is over just after Redis has said that it is there."""
    asked = redis.Redis.exists

    def exists(self: Any, *names: Any) -> Any:
        found = asked(self, *names)
        self.delete(*names)
        return found

    monkeypatch.setattr(redis.Redis, "exists", exists)


def seconds_left() -> int:
    """As Redis has it: -1 is for ever, -2 is not there."""
    shared: Any = caches["default"]
    return int(redis.Redis.from_url(settings.REDIS_URL).ttl(shared._shared.make_key(KEY)))


def test_a_count_that_began_anew_ends(ends_meanwhile: None) -> None:
    """The one more that comes late begins a time of its own."""
    assert counts.add(KEY, 60) == 1
    assert 0 < seconds_left() <= 60


def test_one_less_of_a_count_that_is_over_leaves_nothing(ends_meanwhile: None) -> None:
    """Nothing is owed to the next time, and nothing stays."""
    cache.add(KEY, 1, 60)
    counts.give_back([KEY])
    assert seconds_left() == -2


def test_a_count_keeps_the_time_of_its_first() -> None:
    """The second does not lengthen it."""
    counts.add(KEY, 60)
    cache.touch(KEY, 5)
    assert counts.add(KEY, 60) == 2
    assert seconds_left() <= 5
