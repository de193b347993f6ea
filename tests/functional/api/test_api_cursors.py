"""Cursors of the paged lists: each is good for the list and the reader that it was given to, and
for nothing else."""

from base64 import b64encode
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

import pytest

from accounts.models import User
from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.matrix import MATRIX
from tests.functional.api.paged_lists import (
    LISTS,
    Cell,
    make_full_world,
    next_cursor,
    page_of,
    readers,
)
from tests.functional.api.school import FRIDAY, School

pytestmark = pytest.mark.sql


def _unsigned(position: str) -> str:
    """A cursor as the library of the framework writes it, without a signature."""
    return b64encode(position.encode()).decode()


MADE_UP = [
    "",
    "x",
    "!!!!",
    "é",
    "=",
    "0",
    "null",
    "x" * 5000,
    "a.b",
    "a:b",
    _unsigned(""),
    _unsigned("o=1"),
    _unsigned("o=-5"),
    _unsigned("r=1"),
    _unsigned("p=abc"),
    _unsigned("p=5"),
    _unsigned("p=2027-99-99"),
    _unsigned("p=2027-03-05"),
    _unsigned("p=2027-03-05 15:00:00+00:00"),
    _unsigned("p=0001-01-01T00:00:00+14:00"),
    _unsigned("p=9999-12-31T23:59:59-12:00"),
    _unsigned("r=1&p=99999999999999999999"),
]


def refused_at_cursor(user: User, path: str, cursor: str) -> None:
    reply = page_of(user, path, cursor=cursor)
    assert (reply.status, reply.code) == (422, "invalid"), (path, cursor, reply.body)
    assert [error["pointer"] for error in reply.json["errors"]] == ["#/cursor"]


@pytest.mark.parametrize("cell", LISTS, ids=" ".join)
def test_a_cursor_that_this_list_did_not_give_is_refused(school: School, cell: Cell) -> None:
    """A made-up one never reaches the database, and never restarts the list in silence. A position
    in another list, or where it stood for another reader, has no meaning here.
    """
    world = make_full_world(school)
    path, users = MATRIX[cell].path(world), list(readers(world, cell).values())
    for cursor in MADE_UP:
        refused_at_cursor(users[0], path, cursor)
    other = "bookings/" if path == "meetings/" else "meetings/"
    refused_at_cursor(users[-1], path, next_cursor(page_of(users[-1], other, page_size=1)))
    given = {user: next_cursor(page_of(user, path, page_size=1)) for user in users}
    giver = next(user for user, cursor in given.items() if cursor)
    reader = next((user for user in users if user != giver), None)
    if reader is None:  # admins alone read it
        reader = cast.make_admin("Ida Quince")
    refused_at_cursor(reader, path, given[giver])


def test_a_cursor_that_was_given_leads_through_the_whole_list(school: School) -> None:
    """Page by page forward and back, each row comes once, in order."""
    for day in range(5):
        cast.make_booking(school.class_on(starts_at=FRIDAY + timedelta(days=day)), school.noor)
    noor = Api(school.noor.user)
    rows, page = [], noor.get("bookings/?page_size=2").json
    rows += [row["id"] for row in page["results"]]
    while page["next"]:
        page = follow(noor, page["next"])
        rows += [row["id"] for row in page["results"]]
    whole = [row["id"] for row in noor.get("bookings/").json["results"]]
    assert rows == whole
    assert len(rows) == 5
    before = follow(noor, page["previous"])["results"]
    assert [row["id"] for row in before] == rows[2:4]


def follow(api: Api, address: str) -> Any:
    """The page at an address that the API gave."""
    parts = urlsplit(address)
    return api.get(f"{parts.path}?{parts.query}").json
