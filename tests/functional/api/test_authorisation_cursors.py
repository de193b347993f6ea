"""A cursor belongs to the list and the reader it was given to: in another's hands it shows them
their own rows, or is refused.

OWASP API Security 2023, API1. The position in a cursor is nothing that a server can trust unless it
is signed.
"""

import pytest

from tests.functional.api.paged_lists import (
    LISTS,
    MATRIX,
    Cell,
    make_full_world,
    next_cursor,
    page_of,
)
from tests.functional.api.school import School
from tests.functional.api.world import World

pytestmark = pytest.mark.sql


@pytest.fixture
def world(school: School) -> World:
    return make_full_world(school)


def test_the_walk_finds_the_paged_lists() -> None:
    """The check cannot go blind: it knows the lists that are paged today, and any that come."""
    today = {"assessments/", "bookings/", "meetings/", "move-requests/", "offers/"}
    assert today | {"weekly-places/"} <= {pattern for _, pattern in LISTS}


@pytest.mark.parametrize("cell", LISTS, ids=" ".join)
def test_a_foreign_cursor_shows_no_row_of_another(world: World, cell: Cell) -> None:
    """Everybody's cursor in another's hands: 422, or rows that the reader sees without it."""
    path = MATRIX[cell].path(world)
    people = {role: user for role, user in world.people().items() if user is not None}
    minted = {role: next_cursor(page_of(user, path, page_size=1)) for role, user in people.items()}
    assert any(minted.values()), "nobody has a second page, so nothing was tried"
    for reader, user in people.items():
        everything = page_of(user, path, page_size=200)
        own = everything.json["results"] if everything.status == 200 else []
        for minter, cursor in minted.items():
            if not cursor or minter == reader:
                continue
            reply = page_of(user, path, page_size=200, cursor=cursor)
            at = f"{minter}'s cursor with {reader}"
            if everything.status != 200:
                assert reply.status in (everything.status, 422), at
            elif reply.status != 200:
                assert reply.status == 422, at
            else:
                assert all(row in own for row in reply.json["results"]), at
