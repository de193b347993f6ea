"""An online room: one address for all meetings, or a template that gives each its own."""

import re

from bookings.domain.errors import Refused

LONGEST = 300
PLACE = "{token}"
TOKEN_LENGTH = 24
_TOKEN = rf"[A-Za-z0-9_-]{{{TOKEN_LENGTH}}}"


def check_room(room: str) -> None:
    """Refused("invalid") unless this is an https address, in which `{token}` may stand once, after
    the name of the server.
    """
    longest = len(address_in(room, "x" * TOKEN_LENGTH))
    if not _is_on_the_web(room) or max(longest, len(room)) > LONGEST:
        raise _invalid(f"Send an address of up to {LONGEST} characters that begins with https://.")
    path = room.removeprefix("https://").partition("/")[2]
    if _has_braces(room) and (path.count(PLACE) != 1 or _has_braces(room.replace(PLACE, "", 1))):
        raise _invalid(
            "Write {token} once, after the name of the server, such as "
            "https://rooms.example/{token}, and no other braces."
        )


def check_join_address(address: str) -> None:
    """Refused("invalid") for the address of one meeting that has braces."""
    if _has_braces(address):
        raise Refused("invalid", "The address of one meeting has no braces.", field="join_address")


def is_template(room: str) -> bool:
    """Whether each meeting in this room gets an address of its own."""
    return PLACE in room


def address_in(room: str, token: str) -> str:
    """The address of one meeting in this room; the room itself where it is no template."""
    return room.replace(PLACE, token, 1)


def is_address_in(room: str, address: str) -> bool:
    """Whether this address of a meeting is the room, or was made from the template."""
    if not is_template(room):
        return address == room
    before, _, after = room.partition(PLACE)
    return re.fullmatch(re.escape(before) + _TOKEN + re.escape(after), address) is not None


def is_own_address(room: str, address: str) -> bool:
    """Whether this room made the address for one meeting alone."""
    return is_template(room) and is_address_in(room, address)


def _is_on_the_web(room: str) -> bool:
    has_space = any(character.isspace() for character in room)
    return room.startswith("https://") and len(room) > len("https://") and not has_space


def _has_braces(text: str) -> bool:
    return "{" in text or "}" in text


def _invalid(detail: str) -> Refused:
    return Refused("invalid", detail, field="room")
