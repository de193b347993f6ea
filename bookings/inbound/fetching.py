"""Fetches a calendar from an https address without danger to this machine and its neighbours.

How a host is reached is inbound.guarded's. At most three redirects are followed, each checked like
the first address. Seconds and bytes are limited, and only text/calendar is read.
"""

import http.client
import ssl
import zlib
from dataclasses import dataclass

from bookings.domain.errors import Refused
from bookings.inbound.addresses import Address, read_address, read_redirect
from bookings.inbound.expanding import MOST_BYTES
from bookings.inbound.guarded import (
    Connector,
    Limits,
    Resolver,
    Road,
    Unreached,
    connect,
    connected,
    resolve_host,
)

CONNECT, IN_ALL = 2.0, 10.0
"""Seconds for one connection, and for the whole fetch with all redirects."""
MOST_REDIRECTS = 3
_REDIRECTS = {301, 302, 303, 307, 308}
_CHUNK = 65_536
_LONGEST_TAG = 500


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
    limits, road = Limits.begin(CONNECT, IN_ALL), Road(resolver, connector, trusted)
    address, asked = read_address(text), tags or Tags()
    try:
        for _ in range(MOST_REDIRECTS + 1):
            with connected(address, limits, road) as secured:
                answer = _ask(secured, address, asked)
                if answer.status not in _REDIRECTS:
                    return _read(answer, asked, limits)
                address = read_redirect(address, answer.getheader("Location") or "")
    except Unreached as error:
        raise _unanswered(error.why) from error
    except (OSError, http.client.HTTPException) as error:
        raise _unanswered("it did not answer, or not in time.") from error
    raise _unanswered(f"it redirects more than {MOST_REDIRECTS} times.")


def _unanswered(why: str) -> Refused:
    return Refused("calendar-unanswered", f"The address gave no calendar: {why}")


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


def _read(answer: http.client.HTTPResponse, asked: Tags, limits: Limits) -> Fetched:
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
    body = _body(answer, limits, is_packed=coding != "identity")
    tags = Tags(_tag(answer.getheader("ETag")), _tag(answer.getheader("Last-Modified")))
    return Fetched(body, tags)


def _tag(value: str | None) -> str:
    """A header field that can be sent back: short and of printable ASCII; otherwise empty."""
    if value and value.isascii() and value.isprintable() and len(value) <= _LONGEST_TAG:
        return value
    return ""


def _body(answer: http.client.HTTPResponse, limits: Limits, *, is_packed: bool) -> bytes:
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
    limits.left()  # a connection that the timer has shut down looks like the end of the body
    if answer.length or (unpack is not None and not unpack.eof):
        raise _unanswered("what it sent stops in the middle.")
    return bytes(body)
