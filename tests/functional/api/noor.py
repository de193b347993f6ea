"""Noor at the API."""

import pytest

from tests.functional.api.client import Api
from tests.functional.api.school import School


@pytest.fixture
def noor(school: School) -> Api:
    return Api(school.noor.user)
