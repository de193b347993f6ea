"""A TLS connection to an address that somebody has typed, without danger to this machine.

The host is resolved once and every IP address must be global. The connection goes to an address
that was checked, so a name that resolves differently the next time gains nothing. The certificate
is checked against the name. The time is limited as a whole.
"""

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from concurrent.futures import TimeoutError as TookTooLong
from contextlib import contextmanager
from dataclasses import dataclass

from bookings.inbound.addresses import Address, check_global

_MOST_TRIED = 3

Resolver = Callable[[str], Sequence[str]]
"""The IP addresses of a host, as text."""
Connector = Callable[[str, float], socket.socket]
"""Opens a connection to port 443 of an IP address, within this many seconds."""


class Unreached(Exception):
    """No connection, or no time is left: `problem` is a code, and the text says why in words."""

    def __init__(self, problem: str, why: str) -> None:
        super().__init__(why)
        self.problem, self.why = problem, why


def resolve_host(host: str) -> list[str]:
    """The IP addresses of a host by the machine's resolver."""
    return [str(found[4][0]) for found in socket.getaddrinfo(host, 443, type=socket.SOCK_STREAM)]


def connect(address: str, seconds: float) -> socket.socket:
    """A TCP connection to port 443 of an IP address."""
    return socket.create_connection((address, 443), timeout=seconds)


@dataclass(frozen=True, slots=True)
class Road:
    """How hosts are found and reached. A test may bring its own, but not its own checks.

    `trusted` has the certificate authorities; None for the machine's own.
    """

    resolver: Resolver = resolve_host
    connector: Connector = connect
    trusted: ssl.SSLContext | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """Seconds for one connection and in all, and the instant (monotonic) at which they end."""

    connect: float
    in_all: float
    until: float

    @classmethod
    def begin(cls, connect_seconds: float, in_all: float) -> "Limits":
        """The limits of what begins now."""
        return cls(connect_seconds, in_all, time.monotonic() + in_all)

    def left(self, most: float | None = None) -> float:
        """The seconds left, `most` at most. Unreached("slow") where there are none."""
        left = min(self.in_all if most is None else most, self.until - time.monotonic())
        if left <= 0:
            raise Unreached("slow", f"it took more than {self.in_all:.0f} seconds.")
        return left


@contextmanager
def connected(address: Address, limits: Limits, road: Road) -> Iterator[ssl.SSLSocket]:
    """A connection that is closed in the end, and shut down when the time is up.

    Raises Unreached: "unknown-host", "unreachable", "certificate", "slow"; and
    Refused("calendar-address") where the host is not public.
    """
    secured = _secured(address, limits, road)
    # A server that sends a byte a second never meets a socket's time limit, so a timer shuts the
    # connection down.
    watch = threading.Timer(limits.left(), _shut, (secured,))
    watch.daemon = True
    watch.start()
    try:
        yield secured
    finally:
        watch.cancel()
        secured.close()


def _shut(secured: ssl.SSLSocket) -> None:
    socket.socket.shutdown(secured, socket.SHUT_RDWR)


def _secured(address: Address, limits: Limits, road: Road) -> ssl.SSLSocket:
    found = _resolved(address.host, limits, road.resolver)
    check_global(found)
    trusted = road.trusted or ssl.create_default_context()
    try:
        plain = _first(found[:_MOST_TRIED], limits, road.connector)
        plain.settimeout(limits.left(limits.connect))
        secured = trusted.wrap_socket(plain, server_hostname=address.host)
    except ssl.SSLError as error:
        raise Unreached("certificate", "its certificate is not one for that host.") from error
    except OSError as error:
        raise Unreached("unreachable", "it could not be reached.") from error
    secured.settimeout(limits.left())
    return secured


def _first(addresses: Sequence[str], limits: Limits, connector: Connector) -> socket.socket:
    """A connection to the first address that accepts one."""
    for address in addresses[:-1]:
        try:
            return connector(address, limits.left(limits.connect))
        except OSError:
            continue
    return connector(addresses[-1], limits.left(limits.connect))


def _resolved(host: str, limits: Limits, resolver: Resolver) -> Sequence[str]:
    """The IP addresses of a host.

    A resolver has no time limit of its own, so it runs in a thread. One that takes too long is left
    behind.
    """
    pool = ThreadPoolExecutor(1)
    try:
        return pool.submit(resolver, host).result(limits.left())
    except (OSError, UnicodeError, TookTooLong) as error:
        raise Unreached("unknown-host", "its host is unknown.") from error
    finally:
        pool.shutdown(wait=False)
