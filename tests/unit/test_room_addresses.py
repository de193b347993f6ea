"""A room is one address, or a template that gives each meeting an address of its own."""

import pytest

from bookings.domain.errors import Refused
from bookings.domain.rooms import (
    address_in,
    check_join_address,
    check_room,
    is_address_in,
    is_own_address,
)

TEMPLATE = "https://rooms.example/{token}?as=guest"
TOKEN = "aZ_-" * 6


@pytest.mark.parametrize(
    "room",
    [
        "https://rooms.example/ilse",
        TEMPLATE,
        "https://rooms.example/{token}",
        "https://rooms.example:8443/a/b-{token}",
        "https://rooms.example/" + "x" * 278,
    ],
)
def test_rooms_that_are_taken(room: str) -> None:
    """An https address of up to 300 characters, with or without the place for a token."""
    check_room(room)


@pytest.mark.parametrize(
    "room",
    [
        "",
        "https://",
        "http://rooms.example/{token}",
        "https://rooms.example/{token}/{token}",
        "https://rooms.example/{name}",
        "https://rooms.example/{token}{",
        "https://rooms.example/}{token}",
        "https://rooms.example/{{token}}",
        "https://rooms.example/{TOKEN}",
        "https://{token}.rooms.example/",
        "https://{token}.rooms.example/{token}",
        "https://rooms.example/a b",
        "https://rooms.example/" + "x" * 279,
        "https://rooms.example/{token}" + "x" * 260,
    ],
)
def test_rooms_that_are_refused(room: str) -> None:
    """Another scheme, other braces, the token twice or in the server's name, and one that is too
    long once it is filled in.
    """
    with pytest.raises(Refused) as caught:
        check_room(room)
    assert (caught.value.code, caught.value.data) == ("invalid", {"field": "room"})


def test_the_address_of_one_meeting_has_no_braces() -> None:
    """Nobody would fill them in."""
    check_join_address("https://rooms.example/hall")
    with pytest.raises(Refused):
        check_join_address(TEMPLATE)


def test_an_address_belongs_to_the_template_that_made_it() -> None:
    """Another text in the token's place, or around it, is a room of its own."""
    made = address_in(TEMPLATE, TOKEN)
    assert made == f"https://rooms.example/{TOKEN}?as=guest"
    assert is_address_in(TEMPLATE, made) and is_own_address(TEMPLATE, made)
    for other in ("https://rooms.example/hall?as=guest", made + "x", made.replace("?", "!")):
        assert not is_address_in(TEMPLATE, other)
    fixed = "https://rooms.example/ilse"
    assert is_address_in(fixed, fixed) and not is_own_address(fixed, fixed)
    assert address_in(fixed, TOKEN) == fixed
