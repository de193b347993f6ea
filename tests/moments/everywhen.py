"""A pytest plugin: every test is run at each moment.

`pytest -p tests.moments.everywhen tests/unit`
"""

from collections.abc import Iterator

import pytest
import time_machine

from tests.moments import MOMENTS


@pytest.fixture(autouse=True, params=MOMENTS)
def machine_at(request: pytest.FixtureRequest) -> Iterator[None]:
    """The machine's clock, moved; it runs on from there."""
    with time_machine.travel(MOMENTS[request.param], tick=True):
        yield
