"""Email addresses as mail can carry them."""

import re
import unicodedata

from bookings.domain.errors import Refused
from bookings.domain.names import visible

LONGEST = 254
_IN_ASCII = re.compile(rb"[a-z0-9-]+(\.[a-z0-9-]+)*|\[[0-9a-z:.]+\]")


def mail_address(text: str) -> str:
    """The address in lower case, its domain in the one spelling that mail gives it (RFC 3491).

    Refused("invalid") for an address of more than 254 characters, and for a domain that cannot be
    written in ASCII (RFC 5890) or would be no domain then.
    """
    local, at, domain = unicodedata.normalize("NFC", text.strip()).lower().rpartition("@")
    domain = visible(unicodedata.normalize("NFKC", domain)).replace("\u3002", ".")
    try:
        is_domain = _IN_ASCII.fullmatch(domain.encode("idna")) is not None
    except UnicodeError:
        is_domain = False
    if not is_domain:
        raise Refused("invalid", "No email reaches that domain.", field="email")
    address = f"{local}{at}{domain}"
    if len(address) > LONGEST:
        raise Refused("invalid", f"Type at most {LONGEST} characters.", field="email")
    return address


def in_ascii(address: str) -> str:
    """The address with its domain as mail and calendars carry it (RFC 5890)."""
    local, _, domain = address.rpartition("@")
    return f"{local}@{domain.encode('idna').decode()}"
