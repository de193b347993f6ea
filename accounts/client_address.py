"""The address a request comes from: the one reading of X-Forwarded-For for throttles, sign-in and
logs.

A caller can write anything there. Each proxy adds the address that it saw at the right. So only as
many entries from the right can be trusted as the school has proxies of its own (TRUSTED_PROXIES).
"""

import ipaddress

from django.conf import settings
from django.http import HttpRequest

UNKNOWN = "unknown"
"""The server knows no address, as on a Unix socket. All such callers count as one."""


def client_address(request: HttpRequest) -> str:
    """The caller's address in its shortest form; without a trusted proxy's entry, the address of
    the nearest hop.
    """
    proxies: int = settings.TRUSTED_PROXIES
    named = request.headers.get("X-Forwarded-For", "").split(",") if proxies else []
    client = _address(named[-proxies]) if len(named) >= proxies > 0 else None
    found = client or _address(request.META.get("REMOTE_ADDR", ""))
    return UNKNOWN if found is None else str(found)


def client_network(request: HttpRequest) -> str:
    """The network that counts as one caller: an IPv4 address, or the 64 bits of IPv6 that one
    customer has (RFC 6177).
    """
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
