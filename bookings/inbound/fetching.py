"""Fetches a calendar from an https address without danger to this machine and its neighbours.

A host is resolved once for each request and every IP address must be global. The connection goes to
an address that was checked, so a name that resolves differently the next time gains nothing. The
certificate is checked against the name. At most three redirects are followed, each checked like the
first address. Seconds and bytes are limited, and only text/calendar is read. A test may pass its
own resolver and connector, but not its own checks.
"""

import http.client
import socket
import ssl
import threading
import time
import zlib
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from concurrent.futures import TimeoutError as TookTooLong
from dataclasses import dataclass

from bookings.domain.errors import Refused
from bookings.inbound.addresses import Address, check_global, read_address, read_redirect
from bookings.inbound.expanding import MOST_BYTES

CONNECT, IN_ALL = 2.0, 10.0
"""Seconds for one connection, and for the whole fetch with all redirects."""
MOST_REDIRECTS = 3
_REDIRECTS = {301, 302, 303, 307, 308}
_CHUNK = 65_536
_MOST_TRIED = 3
_LONGEST_TAG = 500

Resolver = Callable[[str], Sequence[str]]
"""The IP addresses of a host, as text."""
Connector = Callable[[str, float], socket.socket]
"""Opens a connection to port 443 of an IP address, within this many seconds."""


@dataclass(frozen=True, slots=True)
class Tags:
    """The server's names for a version of the calendar (RFC 9110 sections 8.8.2 and 8.8.3).

    They are sent back, so that an unchanged calendar is not sent again.
    """

    etag: str = ""
    last_modified: str = ""


@dataclass(frozen=True, slots=True)
class Fetched:
    """The bytes of a calendar, or None where it has not changed, and its tags."""

    body: bytes | None
    tags: Tags


def resolve_host(host: str) -> list[str]:
    """The IP addresses of a host by the machine's resolver."""
    return [str(found[4][0]) for found in socket.getaddrinfo(host, 443, type=socket.SOCK_STREAM)]


def connect(address: str, seconds: float) -> socket.socket:
    """A TCP connection to port 443 of an IP address."""
    return socket.create_connection((address, 443), timeout=seconds)


def fetch(
    text: str,
    tags: Tags | None = None,
    *,
    resolver: Resolver = resolve_host,
    connector: Connector = connect,
    trusted: ssl.SSLContext | None = None,
) -> Fetched:
    """The calendar at an address.

    `trusted` has the certificate authorities; None for the machine's own. Refused:
    "calendar-address" where the address may not be fetched, "calendar-unanswered" where it gives no
    calendar.
    """
    until = time.monotonic() + IN_ALL
    address, asked = read_address(text), tags or Tags()
    for _ in range(MOST_REDIRECTS + 1):
        secured = _connected(
            address, until, resolver, connector, trusted or ssl.create_default_context()
        )
        # A server that sends a byte a second never meets a socket's time limit, so a timer shuts
        # the connection down.
        watch = threading.Timer(_left(until), socket.socket.shutdown, (secured, socket.SHUT_RDWR))
        watch.daemon = True
        watch.start()
        try:
            answer = _ask(secured, address, asked)
            if answer.status not in _REDIRECTS:
                return _read(answer, asked, until)
            address = read_redirect(address, answer.getheader("Location") or "")
        except (OSError, http.client.HTTPException) as error:
            raise _unanswered("it did not answer, or not in time.") from error
        finally:
            watch.cancel()
            secured.close()
    raise _unanswered(f"it redirects more than {MOST_REDIRECTS} times.")


def _unanswered(why: str) -> Refused:
    return Refused("calendar-unanswered", f"The address gave no calendar: {why}")


def _left(until: float, most: float = IN_ALL) -> float:
    """The seconds left, `most` at most. Refused("calendar-unanswered") where there are none."""
    left = min(most, until - time.monotonic())
    if left <= 0:
        raise _unanswered(f"it took more than {IN_ALL:.0f} seconds.")
    return left


def _connected(
    address: Address,
    until: float,
    resolver: Resolver,
    connector: Connector,
    trusted: ssl.SSLContext,
) -> ssl.SSLSocket:
    found = _resolved(address.host, until, resolver)
    check_global(found)
    try:
        plain = _first(found[:_MOST_TRIED], until, connector)
        plain.settimeout(_left(until, CONNECT))
        secured = trusted.wrap_socket(plain, server_hostname=address.host)
    except ssl.SSLError as error:
        raise _unanswered("its certificate is not one for that host.") from error
    except OSError as error:
        raise _unanswered("it could not be reached.") from error
    secured.settimeout(_left(until))
    return secured


def _first(addresses: Sequence[str], until: float, connector: Connector) -> socket.socket:
    """A connection to the first address that accepts one."""
    for address in addresses[:-1]:
        try:
            return connector(address, _left(until, CONNECT))
        except OSError:
            continue
    return connector(addresses[-1], _left(until, CONNECT))


def _resolved(host: str, until: float, resolver: Resolver) -> Sequence[str]:
    """The IP addresses of a host.

    A resolver has no time limit of its own, so it runs in a thread. One that takes too long is left
    behind.
    """
    pool = ThreadPoolExecutor(1)
    try:
        return pool.submit(resolver, host).result(_left(until))
    except (OSError, UnicodeError, TookTooLong) as error:
        raise _unanswered("its host is unknown.") from error
    finally:
        pool.shutdown(wait=False)


def _ask(secured: ssl.SSLSocket, address: Address, tags: Tags) -> http.client.HTTPResponse:
    headers = {
        "Accept": "text/calendar",
        "Accept-Encoding": "gzip",
        "User-Agent": "Levare",
        "Connection": "close",
    }
    if tags.etag:
        headers["If-None-Match"] = tags.etag
    if tags.last_modified:
        headers["If-Modified-Since"] = tags.last_modified
    connection = http.client.HTTPConnection(address.host)
    connection.sock = secured
    connection.request("GET", address.target, headers=headers)
    return connection.getresponse()


def _read(answer: http.client.HTTPResponse, asked: Tags, until: float) -> Fetched:
    if answer.status == 304 and asked != Tags():
        return Fetched(None, asked)
    if answer.status != 200:
        raise _unanswered(f"it answered with status {answer.status}.")
    media_type = (answer.getheader("Content-Type") or "").partition(";")[0]
    if media_type.strip().lower() != "text/calendar":
        raise _unanswered("what it sent is not labelled text/calendar.")
    coding = (answer.getheader("Content-Encoding") or "identity").strip().lower()
    if coding not in ("identity", "gzip", "x-gzip"):
        raise _unanswered("what it sent is compressed in a way that cannot be read here.")
    body = _body(answer, until, is_packed=coding != "identity")
    tags = Tags(_tag(answer.getheader("ETag")), _tag(answer.getheader("Last-Modified")))
    return Fetched(body, tags)


def _tag(value: str | None) -> str:
    """A header field that can be sent back: short and of printable ASCII; otherwise empty."""
    if value and value.isascii() and value.isprintable() and len(value) <= _LONGEST_TAG:
        return value
    return ""


def _body(answer: http.client.HTTPResponse, until: float, *, is_packed: bool) -> bytes:
    unpack = zlib.decompressobj(wbits=16 + zlib.MAX_WBITS) if is_packed else None
    body = bytearray()
    while chunk := answer.read1(_CHUNK):
        try:
            body += (
                chunk if unpack is None else unpack.decompress(chunk, MOST_BYTES + 1 - len(body))
            )
        except zlib.error as error:
            raise _unanswered("what it sent is compressed and cannot be opened.") from error
        if len(body) > MOST_BYTES:
            raise _unanswered(f"what it sent is longer than {MOST_BYTES // 1_000_000} MB.")
    _left(until)  # a connection that the timer has shut down looks like the end of the body
    if answer.length or (unpack is not None and not unpack.eof):
        raise _unanswered("what it sent stops in the middle.")
    return bytes(body)
