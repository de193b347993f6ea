"""What tests of a calendar feed share: a clock that stands still."""

from datetime import datetime, timedelta

import pytest
from django.core.cache import cache

from tests.cast import NOW


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """The interface's clock, stopped; a test moves it by writing into the list."""
    cache.clear()
    hands = [NOW + timedelta(minutes=5)]
    monkeypatch.setattr("bookings.clock.now", lambda: hands[0])
    return hands
