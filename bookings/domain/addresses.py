"""Email addresses as mail can carry them."""

from bookings.domain.errors import Refused

LONGEST = 254


def mail_address(text: str) -> str:
    """The address in lower case.

    Refused("invalid") for an address of more than 254 characters, and for a domain that cannot be
    written in ASCII (RFC 5890).
    """
    address = text.strip().lower()
    try:
        address.rpartition("@")[2].encode("idna")
    except UnicodeError as error:
        raise Refused("invalid", "No email reaches that domain.", field="email") from error
    if len(address) > LONGEST:
        raise Refused("invalid", f"Type at most {LONGEST} characters.", field="email")
    return address


def in_ascii(address: str) -> str:
    """The address with its domain as mail and calendars carry it (RFC 5890)."""
    local, _, domain = address.rpartition("@")
    return f"{local}@{domain.encode('idna').decode()}"
