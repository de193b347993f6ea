"""Wherever an answer says that something can be read, whoever was told can read it there."""

import pytest

from tests.functional.api.client import V1, Api, schema, undone
from tests.functional.api.matrix import MATRIX, ROLES
from tests.functional.api.world import World

pytestmark = pytest.mark.one_database


def described(cell: tuple[str, str]) -> set[str]:
    """The header fields that the schema names for a success."""
    verb = schema()["paths"][V1 + cell[1].replace("<id:pk>", "{id}")][cell[0].lower()]
    return {
        name
        for status, answer in verb["responses"].items()
        if status.startswith("2")
        for name in answer.get("headers", {})
    }


LOCATED = sorted(cell for cell in MATRIX if "Location" in described(cell))


@pytest.mark.parametrize("cell", LOCATED, ids=" ".join)
def test_a_location_can_be_read(world: World, cell: tuple[str, str]) -> None:
    """RFC 9110 section 10.2.2: what was made is at Location, for everybody who may make it."""
    route, read = MATRIX[cell], 0
    for role, status in zip(ROLES, route.cells, strict=True):
        if status >= 300:
            continue
        api = Api(world.people()[role])
        with undone():
            made = api.ask(cell[0], route.path(world), route.body(world), match="*")
            assert made.headers["Location"].startswith(V1)
            assert api.get(made.headers["Location"]).status == 200, role
            read += 1
    assert read or cell == ("POST", "meetings/<id:pk>/waiting-list/")


def test_the_walk_finds_locations() -> None:
    """Were the schema read wrongly, the test above would pass for nothing."""
    assert len(LOCATED) > 12
