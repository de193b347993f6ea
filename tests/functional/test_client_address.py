"""Whose request it is: one reading of X-Forwarded-For, the same for throttles, sign-in and logs.

Source: RFC 7239 section 8.1 (what a caller writes there is no evidence); each proxy adds at the
right what it saw.
"""

import ast
from typing import Any

import pytest
import structlog
from allauth.account.adapter import get_adapter
from django.conf import settings as live_settings
from django.test import RequestFactory
from django.utils.module_loading import import_string
from rest_framework.settings import api_settings
from rest_framework.throttling import BaseThrottle

from accounts.client_address import client_address, client_network
from config.request_log import RequestLog
from tests.architecture.tree import parsed, python_files

pytestmark = pytest.mark.one_database

PROXY = "10.0.0.2"


def request(forwarded: str | None, peer: str = PROXY) -> Any:
    header = {} if forwarded is None else {"HTTP_X_FORWARDED_FOR": forwarded}
    return RequestFactory().get("/", REMOTE_ADDR=peer, **header)


@pytest.mark.parametrize(
    ("proxies", "forwarded", "found"),
    [
        (0, None, PROXY),
        (0, "198.51.100.7", PROXY),
        (1, "198.51.100.7", "198.51.100.7"),
        (1, "1.2.3.4, 198.51.100.7", "198.51.100.7"),
        (2, "1.2.3.4, 198.51.100.7, 10.0.0.9", "198.51.100.7"),
        (2, "198.51.100.7", PROXY),
        (1, None, PROXY),
        (1, "", PROXY),
        (1, "1.2.3.4, <script>", PROXY),
        (1, "2001:DB8::0001", "2001:db8::1"),
        (1, "::ffff:198.51.100.7", "198.51.100.7"),
    ],
)
def test_only_our_own_proxies_are_believed(
    settings: Any, proxies: int, forwarded: str | None, found: str
) -> None:
    """As many entries from the right as there are proxies; with fewer entries, or none that is an
    address, the nearest hop.

    Source: OWASP ASVS 5.0.0, V4.1.3.
    """
    settings.TRUSTED_PROXIES = proxies
    assert client_address(request(forwarded)) == found


def test_no_address_is_one_caller() -> None:
    """A Unix socket gives none: nobody is turned away for it, and all are counted together."""
    assert (
        client_address(request(None, peer=""))
        == client_network(request(None, peer=""))
        == "unknown"
    )


def test_a_customer_of_version_6_is_one_network() -> None:
    """RFC 6177: one site has at least 64 bits to choose its addresses from."""
    one, other = (
        client_network(request(None, peer=f"2001:db8:0:7::{end}")) for end in ("1", "ffff")
    )
    assert one == other == "2001:db8:0:7::/64"


@pytest.mark.parametrize("proxies", [0, 1])
def test_throttles_sign_in_and_logs_agree(settings: Any, proxies: int) -> None:
    """Every throttle that is set, the account library and the log read the same address from the
    same request."""
    settings.TRUSTED_PROXIES = proxies
    asked = request("203.0.113.5, 198.51.100.7")
    expected = "198.51.100.7" if proxies else PROXY
    throttles: list[type[BaseThrottle]] = [*api_settings.DEFAULT_THROTTLE_CLASSES]
    throttles.append(import_string("bookings.api.throttles.SignInRate"))
    for throttle in throttles:
        assert throttle.get_ident(throttle.__new__(throttle), asked) == expected, throttle
    assert get_adapter().get_client_ip(asked) == expected
    with structlog.contextvars.bound_contextvars():
        RequestLog.bind_ip(asked)
        assert structlog.contextvars.get_contextvars()["ip"] == expected
        structlog.contextvars.clear_contextvars()


def test_nothing_else_reads_an_address() -> None:
    """One function reads the header and the peer; a second reading would be a second answer."""
    words = {
        "REMOTE_ADDR",
        "X-Forwarded-For",
        "HTTP_X_FORWARDED_FOR",
        "HTTP_X_REAL_IP",
        "Forwarded",
    }
    readers = {
        str(path)
        for path in python_files("accounts", "bookings", "config")
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Constant) and node.value in words
    }
    assert readers == {"accounts/client_address.py"}


def test_every_throttle_is_the_houses() -> None:
    """A throttle of the framework itself would believe the header; so would the library's own
    middleware for logs."""
    rest = live_settings.REST_FRAMEWORK
    assert all(
        name.startswith("bookings.api.throttles.") for name in rest["DEFAULT_THROTTLE_CLASSES"]
    )
    assert rest["NUM_PROXIES"] == live_settings.TRUSTED_PROXIES
    assert "django_structlog.middlewares.RequestMiddleware" not in live_settings.MIDDLEWARE
