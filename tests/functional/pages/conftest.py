"""Every page test has a school and a clock that stands still, and watches that no page writes outside the write door."""

from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client

from tests.cast import NOW
from tests.functional.pages.browser import opens, people
from tests.functional.pages.school import School, make_school
from tests.writes import written_outside_the_door

__all__ = ["opens", "people"]


class Hands:
    """The interface's clock, stopped at Monday 1 March 2027, 09:00 UTC; a test moves it by setting `at`."""

    at = NOW


@pytest.fixture(autouse=True)
def hands(monkeypatch: pytest.MonkeyPatch) -> Hands:
    cache.clear()
    hands = Hands()
    monkeypatch.setattr("bookings.clock.now", lambda: hands.at)
    return hands


@pytest.fixture(autouse=True)
def every_write_goes_through_the_door(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever a test asks of whichever page: a row of ours that is written outside the door fails it.

    The office's own forms (policies, offerings) are Django's and open a transaction of their own.
    """
    plain = Client.request

    def watched(self: Client, **request: Any) -> Any:
        with written_outside_the_door(monkeypatch) as seen:
            response = plain(self, **request)
        assert seen.outside == [] or request["PATH_INFO"].startswith("/office/")
        return response

    monkeypatch.setattr(Client, "request", watched)


@pytest.fixture
def school(db: None) -> School:
    return make_school()
