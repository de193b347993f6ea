"""Email addresses as mail can carry them."""

import re
import unicodedata

from bookings.domain.errors import Refused
from bookings.domain.names import visible

LONGEST = 254
_IN_ASCII = re.compile(rb"[a-z0-9-]+(\.[a-z0-9-]+)*|\[[0-9a-z:.]+\]")


def mail_address(text: str) -> str:
    """The address in lower case, its domain in one spelling: as people read what mail carries.

    A domain that was typed as mail carries it ("xn--…", RFC 3490) and one in its own letters are
    the same. Refused("invalid") for an address of more than 254 characters, and for a domain that
    cannot be written in ASCII (RFC 5890) or would be no domain then.
    """
    local, at, domain = unicodedata.normalize("NFC", text.strip()).lower().rpartition("@")
    try:
        carried = _plain(domain).encode("idna")
    except UnicodeError:
        carried = b""
    if _IN_ASCII.fullmatch(carried) is None:
        raise Refused("invalid", "No email reaches that domain.", field="email")
    address = f"{local}{at}{'.'.join(map(_read, carried.split(b'.')))}"
    if len(address) > LONGEST:
        raise Refused("invalid", f"Type at most {LONGEST} characters.", field="email")
    return address


def known_as(text: str) -> str:
    """How an address that somebody typed is stored, to look it up; as typed if it never is."""
    try:
        return mail_address(text)
    except Refused:
        return text


def _plain(domain: str) -> str:
    """A domain of letters in lower case, with those that look the same made one."""
    return visible(unicodedata.normalize("NFKC", domain)).replace("\u3002", ".")


def _read(label: bytes) -> str:
    """A part of a domain in its own letters; as it is carried if those do not lead back to it."""
    try:
        letters = label.decode("idna")
    except UnicodeError:
        return label.decode()
    return letters if _plain(letters.lower()) == letters else label.decode()


def in_ascii(address: str) -> str:
    """The address with its domain as mail and calendars carry it (RFC 5890)."""
    local, _, domain = address.rpartition("@")
    return f"{local}@{domain.encode('idna').decode()}"
