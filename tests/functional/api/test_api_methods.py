"""Every address says which methods it takes, takes them, and refuses all others."""

import pytest
from django.core.cache import cache
from django.test import Client

from bookings.api.urls import version_1
from tests.functional.api.client import V1
from tests.functional.api.school import School

pytestmark = pytest.mark.one_database

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "QUERY")
ADDRESSES = [
    "/api/schema/",
    "/api/docs/",
    "/api/problems/taken/",
    *(V1 + str(route.pattern).replace("<id:pk>", "999999999") for route in version_1),
]


@pytest.mark.parametrize("address", ADDRESSES)
def test_allow_names_the_methods_that_are_taken(school: School, address: str) -> None:
    """RFC 9110 section 10.2.1: what Allow does not name is 405, what it names is not, and no
    method is a fault.

    Source: OWASP ASVS 5.0.0, V4.1.4.
    """
    browser = Client(raise_request_exception=False)
    browser.force_login(school.dag)
    for method in METHODS:
        cache.clear()  # throttles are tested elsewhere
        answer = browser.generic(method, address, b"", "application/json")
        assert answer.status_code < 500, method
        allowed = answer["Allow"].split(", ")
        assert (answer.status_code == 405) == (method not in allowed), (method, allowed)
