"""Every test of the API has a school, a clock that stands still and throttles that have seen
nobody.
"""

from collections.abc import Iterator

import pytest
import time_machine
from django.core.cache import cache

from tests.cast import NOW
from tests.functional.api.school import School, make_school


@pytest.fixture(autouse=True)
def clock_stands_still() -> Iterator[time_machine.Traveller]:
    """Monday 1 March 2027, 09:00 UTC; a test may move it."""
    cache.clear()
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


@pytest.fixture
def school(db: None) -> School:
    return make_school()
