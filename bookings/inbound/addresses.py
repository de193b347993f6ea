"""Which addresses may be fetched, and which machines they may lead to.

An address that a user types makes this machine send a request. It must never reach this machine,
its neighbours or a data centre's service for credentials. So only https on port 443 is allowed,
without credentials, and all IP addresses of the host must be global.
"""

import ipaddress
import re
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urljoin, urlsplit

from bookings.domain.errors import Refused

LONGEST = 1000
_HOST = re.compile(
    r"(?=.{1,253}$)(?!-)[a-z0-9-]{1,63}(?<!-)(\.(?!-)[a-z0-9-]{1,63}(?<!-))+", re.ASCII
)
_SAFE = re.compile(r"[!-~]+", re.ASCII)
# Ranges that may be routed to an IPv4 address inside them: RFC 6052 (NAT64), RFC 8215, RFC 3056
# (6to4), RFC 4380 (Teredo).
_TUNNELS = [
    ipaddress.ip_network(text)
    for text in ("64:ff9b::/96", "64:ff9b:1::/48", "2002::/16", "2001::/32", "::/96", "fec0::/10")
]


# Ranges of local routers, of data centres' own services and of examples, which this version of
# Python takes for global: RFC 6890 section 2.2.2, RFC 7526 (the end of 6to4), RFC 9637.
_LOCAL = [ipaddress.ip_network(text) for text in ("192.0.0.0/24", "192.88.99.0/24", "3fff::/20")]


@dataclass(frozen=True, slots=True)
class Address:
    """An https address in its parts; `target` is the path with its query."""

    host: str
    target: str

    @property
    def text(self) -> str:
        """The whole address."""
        return f"https://{self.host}{self.target}"


def read_address(text: str) -> Address:
    """The parts of an address. Refused("calendar-address") with what to change.

    The refusal never repeats the address, which may be a secret.
    """
    text = text.strip()
    if text[:9].lower() == "webcal://":  # calendars write it for an https address
        text = "https://" + text[9:]
    if len(text) > LONGEST or not _SAFE.fullmatch(text):
        raise _too_long_or_strange()
    try:
        parts = urlsplit(text)
        host, port = (parts.hostname or "").rstrip("."), parts.port
    except ValueError:
        raise _refused("This is not an address.") from None
    if parts.scheme != "https":
        raise _refused("Give an address that begins with https://.")
    if parts.username is not None or parts.password is not None or "\\" in text:
        raise _refused("Give an address without a name and password in it.")
    if port not in (None, 443):
        raise _refused("Give an address without a port: only port 443 is asked.")
    if not _HOST.fullmatch(host) or host.rsplit(".", 1)[-1].isdigit():
        raise _refused("Give an address with a host name, such as www.example.org.")
    read = Address(host, (parts.path or "/") + (f"?{parts.query}" if parts.query else ""))
    if len(read.text) > LONGEST:  # by the slash that was left out
        raise _too_long_or_strange()
    return read


def read_redirect(base: Address, location: str) -> Address:
    """Where a redirect leads. Refused as `read_address`."""
    try:
        return read_address(urljoin(base.text, location))
    except ValueError:
        raise _refused("The address redirects to something that is not an address.") from None


def check_global(found: Sequence[str]) -> None:
    """Refused("calendar-address") unless there are IP addresses and every one is global."""
    if not found or not all(is_global(text) for text in found):
        raise _refused("This host is not public.")


def is_global(text: str) -> bool:
    """Whether an IP address (text) belongs to the public internet, with any address inside it."""
    try:
        address = ipaddress.ip_address(text)
    except ValueError:
        return False
    if isinstance(address, ipaddress.IPv6Address):
        if address.scope_id is not None or address.ipv4_mapped is not None:
            return False
        if any(address in network for network in _TUNNELS):
            return False
    if any(address in network for network in _LOCAL):
        return False
    return address.is_global and not (
        address.is_multicast or address.is_reserved or address.is_unspecified
    )


def _too_long_or_strange() -> Refused:
    return _refused(f"Write the address in ASCII without spaces, up to {LONGEST} characters.")


def _refused(why: str) -> Refused:
    return Refused("calendar-address", why, field="address")
