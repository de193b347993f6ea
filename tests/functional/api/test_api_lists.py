"""Every list of the API is asked in one way: its pages, its filters, its order.

What each test looks at comes from the schema, so that a new list is held to the same.
"""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import pytest

from accounts.models import User
from bookings.api.operation import declared
from bookings.api.paging import MOST_ON_A_PAGE, PageAsked
from bookings.api.urls import version_1
from tests.functional.api.client import Api, schema
from tests.functional.api.judging import described, parameters
from tests.functional.api.list_filters import MEMBERS, THEIR_OWN, values_of
from tests.functional.api.matrix import MATRIX
from tests.functional.api.paged_lists import (
    LISTS,
    Cell,
    add_one_more,
    answer_shape,
    make_full_world,
    page_of,
    readers,
)
from tests.functional.api.school import School
from tests.functional.api.world import World

pytestmark = pytest.mark.sql

VIEWS = {str(route.pattern): route.callback.cls for route in version_1}
SEARCHES = {
    "slots/": "starts within `from` and `to`, `limit` of them at most",
    "weekly-places/options/": "the times of one week, the best first",
    "busy-calendars/": "one person's few calendars, with all that clashes with them",
    "cleared-hours/": "the meetings of one stretch of an instructor's hours",
    "meetings/<id:pk>/register/": "the places of one meeting",
    "meetings/<id:pk>/roster/": "the places of one meeting",
}
"""What has `results` and is no list of rows, and what bounds it."""


def listing(cell: Cell) -> type[PageAsked]:
    """How the rows of a list are asked for."""
    found = declared(VIEWS[cell[1]], "GET").listing
    assert found is not None, cell
    return found


def every_row(user: User, path: str, **query: Any) -> list[dict[str, Any]]:
    """All rows of a list for this reader, which one page holds."""
    reply = page_of(user, path, page_size=MOST_ON_A_PAGE, **query)
    assert reply.status == 200, (path, query, reply.body)
    assert reply.json["next"] is None
    return list(reply.json["results"])


def test_every_list_is_paged() -> None:
    """Whatever answers with rows answers with a page of them, but for a search that is bounded."""
    whole = {
        cell[1]
        for cell in MATRIX
        if cell[0] == "GET" and "results" in answer_shape(cell).get("properties", {})
    }
    assert whole - {pattern for _, pattern in LISTS} == set(SEARCHES)
    assert len(LISTS) > 20


@pytest.mark.parametrize("cell", LISTS, ids=" ".join)
def test_a_list_is_declared_once(cell: Cell) -> None:
    """Its pages, its filters and its order stand in its description; each filter that compares a
    column is one of its parameters.
    """
    form, said = listing(cell), described(*cell)["description"]
    asked = parameters(*cell)
    assert {"cursor", "page_size"} <= set(asked)
    assert asked["page_size"]["maximum"] == MOST_ON_A_PAGE
    assert f"Order: {form.in_order}" in said
    assert ("Filters: " in said) == (set(asked) > {"cursor", "page_size"})
    assert {form.wire.get(name, name) for name in form.narrows} <= set(asked)
    assert form.order[-1].removeprefix("-") in {"id", "version"}, "the last column is unique"


@pytest.mark.parametrize("cell", LISTS, ids=" ".join)
def test_an_unknown_filter_is_refused_with_a_sentence(school: School, cell: Cell) -> None:
    """A misspelt filter that was passed over would show everything in silence."""
    world = make_full_world(school)
    reader = next(iter(readers(world, cell).values()))
    for query in ({"studnet": "1"}, {"page": "2"}, {"page_size": "201"}, {"page_size": "0"}):
        reply = page_of(reader, MATRIX[cell].path(world), **query)
        assert (reply.status, reply.code) == (422, "invalid"), (query, reply.body)
        (error,) = reply.json["errors"]
        assert error["pointer"] == f"#/{next(iter(query))}"
        assert error["detail"].endswith(".")


@pytest.mark.parametrize("cell", LISTS, ids=" ".join)
def test_a_filter_lets_through_what_it_names(school: School, cell: Cell) -> None:
    """For every reader, every filter and every value among their rows: exactly those rows that say
    so, and never a row that the reader does not see without the filter.
    """
    world, tried = make_full_world(school), set()
    path = MATRIX[cell].path(world)
    filters = set(parameters(*cell)) - {"cursor", "page_size"} - THEIR_OWN
    if cell[1] in LISTS_OF_AN_INSTRUCTOR:
        filters -= {"instructor"}
    for user in readers(world, cell).values():
        base = every_row(user, path)
        for name in filters:
            for value, expected in values_of(cell[1], name, base):
                assert every_row(user, path, **{name: value}) == expected, (name, value)
                tried |= {name} if expected else set()
    assert tried == filters, "a filter without a row tells nothing"


def test_what_a_filter_is_compared_with_is_known() -> None:
    """Every filter of every list has its member, or stands with those that have tests of their
    own.
    """
    filters = {name for cell in LISTS for name in parameters(*cell)} - {"cursor", "page_size"}
    assert filters == set(MEMBERS) | THEIR_OWN


@pytest.mark.parametrize("cell", LISTS, ids=" ".join)
def test_pages_stay_right_while_rows_are_added(school: School, cell: Cell) -> None:
    """Row by row forward, while others are written before, between and after them: each row that
    was there comes once, in order; and the way back meets all that are there by then.
    """
    world = make_full_world(school)
    path = MATRIX[cell].path(world)
    for user in readers(world, cell).values():
        before = [row_key(row) for row in every_row(user, path)]
        page = page_of(user, path, page_size=1).json
        add_one_more(world, since=100 * (1 + list(world.people().values()).index(user)))
        seen = walked(user, page, "next")
        assert [key for key in seen if key in before] == before
        assert len(set(seen)) == len(seen)
        now = [row_key(row) for row in every_row(user, path)]
        if not now:
            continue
        last = page_of(user, path, page_size=1).json
        while last["next"]:
            last = follow(user, last["next"])
        assert walked(user, last, "previous") == now[::-1]


def row_key(row: dict[str, Any]) -> Any:
    """What tells a row from the others of its list."""
    if "id" in row:
        return row["id"]
    named = row.get("student") or row.get("instructor")
    if named:
        return named["id"]
    return row["version"] if "version" in row else (row["event"], row["number"])


def walked(user: User, page: Any, way: str) -> list[Any]:
    """The keys of the rows from a page of one row to the end of the list."""
    keys = [row_key(row) for row in page["results"]]
    while page[way]:
        page = follow(user, page[way])
        keys += [row_key(row) for row in page["results"]]
    return keys


def follow(user: User, address: str) -> Any:
    """The page at an address that the API gave."""
    parts = urlsplit(address)
    return Api(user).get(f"{parts.path}?{parts.query}").json


LISTS_OF_AN_INSTRUCTOR = ("students/", "extra-hours/", "days-away/")
"""Here `instructor` says whose list it is: it narrows nothing, and has its tests elsewhere."""
FAMILIES: dict[str, Callable[[World], set[int]]] = {
    "owner": lambda world: {world.learner.pk},
    "stranger": lambda world: {world.school.marlo.pk},
    "guardian": lambda world: {row.student_id for row in world.school.hedda.guardianships.all()},
    "guardian of a grown child": lambda world: set(),
    "removed guardian": lambda world: set(),
    "barred guardian": lambda world: set(),
}
"""Who acts for which students. Nobody of these is of the school."""
THEIR_OWN_CONSENT = ("consents/", "guardian of a grown child")
"""The consent that they gave while the child was one."""


@pytest.mark.parametrize("cell", LISTS, ids=" ".join)
def test_no_list_shows_a_row_about_another_family(school: School, cell: Cell) -> None:
    """OWASP API Security 2023, API1: every row that names a student names one of the reader's
    own, with no filter and with a filter for each student of the school.

    Source: OWASP ASVS 5.0.0, V8.2.2.
    """
    world = make_full_world(school)
    path, people = MATRIX[cell].path(world), world.people()
    asks_student = "student" in parameters(*cell)
    students = [{"student": one.pk} for one in (school.noor, school.marlo, school.posy)]
    for role, own in FAMILIES.items():
        for query in [{}, *(students if asks_student else [])]:
            reply = page_of(people[role], path, **query)
            rows = reply.json["results"] if reply.status == 200 else []
            about = {row["student"]["id"] for row in rows if row.get("student")}
            if (cell[1], role) == THEIR_OWN_CONSENT:
                assert about <= {world.learner.pk}
                continue
            assert about <= own(world), (role, query)
            if role != "owner":
                assert b"Ashgrove" not in reply.body, (role, query)


def test_the_lists_are_those_that_a_school_needs() -> None:
    """Those who build on the API find people, plans, accounts, statements and assessments."""
    paths = {pattern for _, pattern in LISTS}
    wanted = {"students/", "plans/", "terms/<id:pk>/accounts/", "statements/"}
    assert wanted | {"students/<id:pk>/assessments/", "invitations/", "offerings/"} <= paths
    assert schema()["info"]["title"]
