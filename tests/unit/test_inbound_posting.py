"""Posting a delivery over TLS to a server on this machine, which answers as bad receivers do."""

import socket
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from bookings.inbound import posting
from bookings.inbound.guarded import Road
from bookings.inbound.posting import Answered, post
from tests.tls_server import HOST, PUBLIC, TlsServer, say

URL = f"https://{HOST}/told?key=secret-key"
BODY = b'{"type":"booking.made","timestamp":"2027-03-01T09:00:00Z","data":{"id":17}}'
FIELDS = {"webhook-id": "evt_1", "webhook-timestamp": "1", "webhook-signature": "v1,x"}


@pytest.fixture
def server(tmp_path: Path) -> Iterator[TlsServer]:
    server = TlsServer(tmp_path)
    yield server
    server.close()


def tell(server: TlsServer, *answers: object, url: str = URL, **road: object) -> Answered:
    server.answers += answers  # type: ignore[arg-type]
    known = {
        "resolver": lambda host: [PUBLIC],
        "connector": server.connect,
        "trusted": server.trusted,
        **road,
    }
    return post(url, FIELDS, BODY, road=Road(**known))  # type: ignore[arg-type]


def test_a_delivery_is_posted_as_json_with_its_header_fields(server: TlsServer) -> None:
    """No cookie, no credentials; the milliseconds are measured."""
    answered = tell(server, say("204 No Content", content_length=""))
    assert (answered.status, answered.problem) == (204, "")
    assert 0 <= answered.milliseconds < 15_000
    (head,) = server.requests
    assert head.startswith(b"POST /told?key=secret-key HTTP/1.1\r\n")
    for line in (f"Host: {HOST}", "Content-Type: application/json", "webhook-id: evt_1"):
        assert f"{line}\r\n".encode() in head
    assert b"Cookie" not in head and b"Authorization" not in head


@pytest.mark.parametrize(
    ("answer", "status", "problem"),
    [
        (say("200 OK"), 200, ""),
        (say("202 Accepted", b"x" * 50_000_000), 202, ""),
        (say("302 Found", location="https://elsewhere.rowanmere.example/"), 302, "status"),
        (say("308 Permanent Redirect", location="https://10.0.0.1/"), 308, "status"),
        (say("410 Gone"), 410, "status"),
        (say("500 Internal Server Error"), 500, "status"),
        (lambda secured, _: None, None, "no-answer"),
        (lambda secured, _: secured.sendall(b"220 ESMTP\r\n"), None, "no-answer"),
        (
            lambda secured, _: secured.sendall(b"HTTP/1.1 200 OK\r\nX: " + b"a" * 100_000),
            None,
            "no-answer",
        ),
        (
            lambda secured, _: secured.sendall(b"HTTP/1.1 200 OK\r\n" + b"X-A: b\r\n" * 5000),
            None,
            "no-answer",
        ),
    ],
    ids=range(10),
)
def test_only_the_status_of_an_answer_counts(
    server: TlsServer, answer: object, status: int | None, problem: str
) -> None:
    """A huge body is not read, a redirect is not followed, another protocol is no answer."""
    found = tell(server, answer)
    assert (found.status, found.problem) == (status, problem)
    assert len(server.asked) == 1


@pytest.mark.parametrize(
    "address", ["10.0.0.1", "127.0.0.1", "169.254.169.254", "::1", "192.168.1.1", "64:ff9b::a00:1"]
)
def test_an_address_that_turns_private_after_it_was_checked_is_not_asked(
    server: TlsServer, address: str
) -> None:
    """It is judged at every delivery, and one private address among several is enough."""
    assert tell(server, say("200 OK")).problem == ""
    for found in ([address], [PUBLIC, address]):
        assert tell(server, resolver=lambda host, known=found: known).problem == "not-public"
    assert server.asked == [PUBLIC]


def test_the_connection_goes_to_the_address_that_was_judged(server: TlsServer) -> None:
    """A name that resolves differently the second time gains nothing: it is resolved once."""
    answers = iter([[PUBLIC], ["127.0.0.1"]])
    tell(server, say("200 OK"), resolver=lambda host: next(answers))
    assert server.asked == [PUBLIC]


def test_another_certificate_is_not_trusted(server: TlsServer, tmp_path: Path) -> None:
    """One that nobody known vouches for, and one for another name."""
    assert tell(server, say("200 OK"), trusted=None).problem == "certificate"
    other = URL.replace(HOST, "other.rowanmere.example")
    assert tell(server, say("200 OK"), url=other).problem == "certificate"
    assert server.requests == []


def test_a_receiver_that_drips_or_is_silent_is_cut_off(
    server: TlsServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One byte at a time, or nothing at all: cut when the time is up (here half a second)."""
    monkeypatch.setattr(posting, "IN_ALL", 0.5)

    def drip(secured: socket.socket, _: bytes) -> None:
        for sign in b"HTTP/1.1 200 OK\r\n" + b"X-A: b\r\n" * 90:
            secured.sendall(bytes([sign]))
            time.sleep(0.02)

    began = time.monotonic()
    assert tell(server, drip).problem == "slow"
    assert tell(server, lambda secured, _: time.sleep(3)).problem == "slow"
    assert tell(server, resolver=lambda host: time.sleep(2) or [PUBLIC]).problem == "unknown-host"
    assert time.monotonic() - began < 3


def test_nobody_there_is_told_apart(server: TlsServer) -> None:
    """A port that refuses, and a name that nobody knows."""

    def refuses(address: str, seconds: float) -> socket.socket:
        raise ConnectionRefusedError

    def unknown(host: str) -> list[str]:
        raise socket.gaierror

    assert tell(server, connector=refuses).problem == "unreachable"
    assert tell(server, resolver=unknown).problem == "unknown-host"


@pytest.mark.parametrize(
    ("said", "seconds"),
    [("120", 120), ("0", 0), ("-5", 0), ("Wed, 21 Oct 2015 07:28:00 GMT", 0), ("9" * 40, 0)],
)
def test_how_long_it_asks_to_wait_is_read_in_seconds(
    server: TlsServer, said: str, seconds: int
) -> None:
    """RFC 9110 section 10.2.3; a date is not read, and then our own times hold."""
    answered = tell(server, say("503 Service Unavailable", retry_after=said))
    assert answered.wait == timedelta(seconds=seconds)
