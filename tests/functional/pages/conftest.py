"""Every page test has a school and a clock that stands still."""

import pytest
from django.core.cache import cache

from tests.cast import NOW
from tests.functional.pages.school import School, make_school


class Hands:
    """The interface's clock, stopped at Monday 1 March 2027, 09:00 UTC; a test moves it by setting `at`."""

    at = NOW


@pytest.fixture(autouse=True)
def hands(monkeypatch: pytest.MonkeyPatch) -> Hands:
    cache.clear()
    hands = Hands()
    monkeypatch.setattr("bookings.clock.now", lambda: hands.at)
    return hands


@pytest.fixture
def school(db: None) -> School:
    return make_school()
