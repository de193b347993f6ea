"""A clock that stands still: for feeds, and for what is counted by the minute."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache

from tests.cast import NOW


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """The interface's clock, stopped; a test moves it by writing into the list."""
    cache.clear()
    hands = [NOW + timedelta(minutes=5)]
    monkeypatch.setattr("bookings.clock.now", lambda: hands[0])
    return hands


@pytest.fixture
def counting(settings: Any) -> Iterator[time_machine.Traveller]:
    """Counts in the process's memory, whose clock a test moves (Redis has its own), and passwords
    that are quick to check: guesses are many."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    backend = "django.core.cache.backends.locmem.LocMemCache"
    settings.CACHES = {"default": {"BACKEND": backend, "OPTIONS": {"MAX_ENTRIES": 10_000}}}
    cache.clear()
    with time_machine.travel(NOW, tick=False) as hands:
        yield hands
    cache.clear()
