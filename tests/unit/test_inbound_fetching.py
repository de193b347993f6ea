"""Fetching a calendar over TLS from a server on this machine, which answers as bad servers do."""

import gzip
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from bookings.domain.errors import Refused
from bookings.inbound import fetching
from bookings.inbound.fetching import Fetched, Tags, fetch
from tests.tls_server import HOST, PUBLIC, TlsServer, say

URL = f"https://{HOST}/busy.ics?key=secret-key"
BODY = b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[TlsServer]:
    server = TlsServer(tmp_path)
    yield server
    server.close()


def ask(
    server: TlsServer, url: str = URL, tags: Tags | None = None, found: tuple[str, ...] = (PUBLIC,)
) -> Fetched:
    return fetch(
        url, tags, resolver=lambda host: found, connector=server.connect, trusted=server.trusted
    )


def refused(server: TlsServer, *answers: object, **how: object) -> Refused:
    server.answers += answers  # type: ignore[arg-type]
    with pytest.raises(Refused) as error:
        ask(server, **how)  # type: ignore[arg-type]
    assert "secret-key" not in str(error.value)
    return error.value


def test_a_calendar_is_fetched_with_its_tags(server: TlsServer) -> None:
    """The body, whole; its ETag and Last-Modified; asked by GET for text/calendar, with no cookie
    and no credentials.
    """
    server.answers.append(
        say(body=BODY, etag='"v1"', last_modified="Mon, 01 Mar 2027 09:00:00 GMT")
    )
    assert ask(server) == Fetched(BODY, Tags('"v1"', "Mon, 01 Mar 2027 09:00:00 GMT"))
    (head,) = server.requests
    assert head.startswith(b"GET /busy.ics?key=secret-key HTTP/1.1\r\n")
    assert f"Host: {HOST}\r\n".encode() in head
    assert b"Cookie" not in head and b"Authorization" not in head


def test_what_has_not_changed_is_not_sent_again(server: TlsServer) -> None:
    """The tags go back (RFC 9110 section 13.1); 304 gives no body and keeps them.

    A 304 that nobody asked for is no calendar.
    """
    tags = Tags('"v1"', "Mon, 01 Mar 2027 09:00:00 GMT")
    server.answers.append(say("304 Not Modified"))
    assert ask(server, tags=tags) == Fetched(None, tags)
    assert b'If-None-Match: "v1"\r\n' in server.requests[0]
    assert b"If-Modified-Since: Mon, 01 Mar 2027 09:00:00 GMT\r\n" in server.requests[0]
    assert "status 304" in refused(server, say("304 Not Modified")).detail


def test_what_is_packed_is_unpacked(server: TlsServer) -> None:
    """gzip is taken, and a body in chunks."""
    server.answers.append(say(body=gzip.compress(BODY), content_encoding="gzip"))
    assert ask(server).body == BODY
    chunked = b"%x\r\n%s\r\n0\r\n\r\n" % (len(BODY), BODY)
    server.answers.append(say(body=chunked, content_length="", transfer_encoding="chunked"))
    assert ask(server).body == BODY


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (say("404 Not Found"), "status 404"),
        (say("500 Internal Server Error"), "status 500"),
        (say("206 Partial Content", BODY), "status 206"),
        (say("204 No Content"), "status 204"),
        (say(body=b"<html>", content_type="text/html"), "not labelled text/calendar"),
        (say(body=BODY, content_type=""), "not labelled text/calendar"),
        (say(body=BODY, content_encoding="br"), "cannot be read here"),
        (say(body=BODY, content_encoding="gzip"), "cannot be opened"),
        (say(body=gzip.compress(BODY)[:-9], content_encoding="gzip"), "in the middle"),
        (say(body=BODY, content_length="900"), "in the middle"),
        (say(body=b"a" * 2_000_001), "longer than 2 MB"),
        (say(body=gzip.compress(b"\0" * 200_000_000), content_encoding="gzip"), "longer than 2 MB"),
        (
            lambda secured, _: secured.sendall(b"220 mail.rowanmere.example ESMTP\r\n"),
            "did not answer",
        ),
        (
            lambda secured, _: secured.sendall(b"HTTP/1.1 200 OK\r\n" + b"X-A: b\r\n" * 5000),
            "did not answer",
        ),
        (
            lambda secured, _: secured.sendall(b"HTTP/1.1 200 OK\r\nX: " + b"a" * 100_000),
            "did not answer",
        ),
        (lambda secured, _: None, "did not answer"),
    ],
    ids=range(16),
)
def test_what_is_no_calendar_is_refused_in_words(
    server: TlsServer, answer: object, words: str
) -> None:
    """Other statuses and media types, broken or endless bodies (200 MB of zeros in 200 kB), other
    protocols: one code, and why.
    """
    refusal = refused(server, answer)
    assert refusal.code == "calendar-unanswered"
    assert words in refusal.detail


def test_a_slow_server_is_not_waited_for(
    server: TlsServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One byte at a time, of the head or of the body: cut when the time is up (here one second),
    and never taken for the whole.
    """
    monkeypatch.setattr(fetching, "IN_ALL", 1.0)

    def drip(text: bytes) -> object:
        def answer(secured: socket.socket, _: bytes) -> None:
            for sign in text:
                secured.sendall(bytes([sign]))
                time.sleep(0.05)

        return answer

    began = time.monotonic()
    head = b"HTTP/1.1 200 OK\r\nContent-Type: text/calendar\r\n"
    for text in (head + b"X-A: b\r\n" * 90, head + b"\r\n" + BODY * 90):
        assert refused(server, drip(text)).code == "calendar-unanswered"
    assert time.monotonic() - began < 8


def test_an_unknown_or_silent_host_is_refused(
    server: TlsServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No such name, a resolver that does not answer, a port that takes no connection."""
    monkeypatch.setattr(fetching, "IN_ALL", 0.5)

    def unknown(host: str) -> list[str]:
        raise socket.gaierror("no such host")

    def silent(host: str) -> list[str]:
        time.sleep(1)
        return [PUBLIC]

    def closed(address: str, seconds: float) -> socket.socket:
        raise ConnectionRefusedError

    for resolver, connector, words in (
        (unknown, server.connect, "is unknown"),
        (silent, server.connect, "is unknown"),
        (lambda host: [PUBLIC], closed, "not be reached"),
    ):
        with pytest.raises(Refused, match=words):
            fetch(URL, resolver=resolver, connector=connector, trusted=server.trusted)


def test_the_certificate_is_checked_against_the_name(server: TlsServer) -> None:
    """A certificate for another name, and one that nobody vouches for, are refused before anything
    is sent.
    """
    with pytest.raises(Refused, match="certificate"):
        ask(server, "https://elsewhere.rowanmere.example/busy.ics")
    with pytest.raises(Refused, match="certificate"):
        fetch(URL, resolver=lambda host: [PUBLIC], connector=server.connect)
    assert server.requests == []


@pytest.mark.parametrize(
    "found", [("10.0.0.1",), ("169.254.169.254",), (PUBLIC, "127.0.0.1"), ("::1",), ()]
)
def test_a_name_that_leads_inside_is_not_connected_to(
    server: TlsServer, found: tuple[str, ...]
) -> None:
    """Private, metadata, mixed and missing answers: refused before any connection."""
    assert refused(server, found=found).code == "calendar-address"
    assert server.asked == []


def test_a_name_that_changes_its_mind_gains_nothing(server: TlsServer) -> None:
    """The name is resolved once, and the address that was judged is the address that is used."""
    answers = iter([[PUBLIC], ["127.0.0.1"]])
    server.answers.append(say(body=BODY))
    fetch(
        URL, resolver=lambda host: next(answers), connector=server.connect, trusted=server.trusted
    )
    assert server.asked == [PUBLIC]
    assert next(answers) == ["127.0.0.1"]  # nobody asked a second time


def test_each_hop_is_judged_anew(server: TlsServer) -> None:
    """Three redirects are followed, each resolved and judged by itself; a fourth is not, nor one to
    a private host or to http.
    """
    lead = [say("302 Found", location=f"/{hop}.ics") for hop in range(3)]
    server.answers += [*lead, say(body=BODY)]
    assert ask(server).body == BODY
    assert server.asked == [PUBLIC] * 4
    assert (
        "more than 3 times"
        in refused(server, *lead, say("301 Moved Permanently", location="/again.ics")).detail
    )
    for location in (
        "http://calendar.rowanmere.example/a.ics",
        "https://127.0.0.1/a.ics",
        "https://a:b@x.example/",
    ):
        assert (
            refused(server, say("307 Temporary Redirect", location=location)).code
            == "calendar-address"
        )
    server.answers.append(say("302 Found", location="https://inside.rowanmere.example/a.ics"))
    server.asked.clear()
    with pytest.raises(Refused, match="is not public"):
        fetch(
            URL,
            resolver=lambda host: [PUBLIC] if host == HOST else ["192.168.0.10"],
            connector=server.connect,
            trusted=server.trusted,
        )
    assert server.asked == [PUBLIC]


def test_a_second_address_is_tried_where_the_first_takes_no_connection(server: TlsServer) -> None:
    """As where a host has an IPv6 address that this machine cannot reach."""
    server.answers.append(say(body=BODY))

    def connector(address: str, seconds: float) -> socket.socket:
        if ":" in address:
            raise OSError("network unreachable")
        return server.connect(address, seconds)

    found = fetch(
        URL,
        resolver=lambda host: ["2a00:1450:4001::1", PUBLIC],
        connector=connector,
        trusted=server.trusted,
    )
    assert found.body == BODY
