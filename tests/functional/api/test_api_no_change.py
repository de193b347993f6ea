"""A change that changes nothing leaves everything as it was: no version, no audit row, no email, no
revision of a feed."""

from typing import Any

import pytest

from tests.functional.api.client import Api, snapshot
from tests.functional.api.judging import members
from tests.functional.api.matrix import MATRIX, ROLES
from tests.functional.api.world import World

pytestmark = pytest.mark.sql

OF_ADMINS = {
    "offerings/<id:pk>/",
    "people/<id:pk>/",
    "terms/<id:pk>/",
    "students/<id:pk>/",
    "webhooks/<id:pk>/",
}
PATCHES = sorted(cell for cell in MATRIX if cell[0] == "PATCH")


def who(world: World, cell: tuple[str, str]) -> Api:
    role = next(
        role
        for role, status in zip(ROLES, MATRIX[cell].cells, strict=True)
        if status == 200 and (role != "admin" or cell[1] in OF_ADMINS)
    )
    return Api(world.people()[role])


def standing(world: World, cell: tuple[str, str], read: dict[str, Any]) -> dict[str, Any]:
    """What the call could change, as it is now: a PATCH of it changes nothing."""
    shown = read.get("intake") or read if cell[1].endswith("intake/") else read
    return {name: shown[name] for name in members(*cell) if name in shown}


@pytest.mark.parametrize("cell", PATCHES, ids=" ".join)
@pytest.mark.parametrize("what", ["nothing", "what is there already"])
def test_a_change_that_changes_nothing(world: World, cell: tuple[str, str], what: str) -> None:
    """PATCH {} and a PATCH of what GET shows: the same version, and not a row is written."""
    api, path = who(world, cell), MATRIX[cell].path(world)
    address = path.removesuffix("intake/")
    if path != address:
        api.patch(path, MATRIX[cell].body(world), match="*")
    read = api.get(address)
    body = {} if what == "nothing" else standing(world, cell, read.json)
    before = snapshot()
    changed = api.patch(path, body, match=read.etag)
    required = cell == ("PATCH", "busy-calendars/<id:pk>/") and not body
    assert changed.status == (422 if required else 200), changed.body
    assert snapshot() == before
    assert api.etag(address) == read.etag
    if not required:
        assert changed.etag == read.version


def test_nothing_makes_no_new_version_of_a_released_note(world: World) -> None:
    """A released note that is changed begins a new version; one that is not stays the one that it
    is."""
    ilse, path = Api(world.school.ilse.user), f"assessments/{world.released.pk}/"
    read, before = ilse.get(path), snapshot()
    changed = ilse.patch(path, {"goal": read.json["goal"]}, match=read.etag)
    assert (changed.status, changed.json) == (200, read.json)
    assert snapshot() == before


def test_the_walk_knows_every_patch() -> None:
    """Were there none, nothing above would be tested."""
    assert len(PATCHES) >= 6
