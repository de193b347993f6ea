"""Whose request it is, by address: the one reading of X-Forwarded-For, for throttles, sign-in and
logs alike.

What a caller writes there is no evidence. Each proxy adds the address that it saw at the right, so
only as many entries from the right are true as there are proxies of the school's own
(TRUSTED_PROXIES).
"""

import ipaddress

from django.conf import settings
from django.http import HttpRequest

UNKNOWN = "unknown"
"""Where the server has no address to give, as on a Unix socket: all those are one caller."""


def client_address(request: HttpRequest) -> str:
    """The address of whoever asks, in its shortest form; that of the nearest hop where no trusted
    proxy names another."""
    proxies: int = settings.TRUSTED_PROXIES
    named = request.headers.get("X-Forwarded-For", "").split(",") if proxies else []
    client = _address(named[-proxies]) if len(named) >= proxies > 0 else None
    found = client or _address(request.META.get("REMOTE_ADDR", ""))
    return UNKNOWN if found is None else str(found)


def client_network(request: HttpRequest) -> str:
    """What is counted as one caller: an IPv4 address, or the 64 bits of an IPv6 address that one
    customer is given (RFC 6177)."""
    address = client_address(request)
    if ":" not in address:
        return address
    return str(ipaddress.ip_network(f"{address}/64", strict=False))


def _address(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        found = ipaddress.ip_address(text.strip().partition("%")[0])
    except ValueError:
        return None
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is not None:
        return found.ipv4_mapped
    return found
