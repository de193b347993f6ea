"""Every write of the API goes through the write door."""

import pytest

from tests import cast
from tests.functional.api.client import Api, undone
from tests.functional.api.matrix import MATRIX
from tests.functional.api.world import World
from tests.writes import written_outside_the_door

WRITES = [cell for cell in MATRIX if cell[0] != "GET"]


# A wrong password writes nothing; a right one: below. A file of hours is read and proposed, and
# published by another call.
WRITES_NOTHING = {("POST", "tokens/"), ("POST", "teaching-hours/proposal/")}


@pytest.mark.parametrize("cell", WRITES, ids=" ".join)
def test_every_write_goes_through_the_door(
    world: World, cell: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each verb enters the door for whoever it is meant for, and no row of ours is written outside,
    whoever asks.
    """
    route, entered = MATRIX[cell], 0
    for user in list(world.people().values())[1:]:
        with undone():
            path, body = route.path(world), route.body(world)  # made before anything is counted
            with written_outside_the_door(monkeypatch) as seen:
                Api(user).ask(cell[0], path, body, match="*")
        assert seen.outside == []
        entered += seen.entered
    assert entered or cell in WRITES_NOTHING


def test_signing_in_goes_through_the_door(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """The token is written inside it."""
    user = cast.make_user("Imogen Sorrel", password=cast.PASSWORD)
    with written_outside_the_door(monkeypatch) as seen:
        assert Api().post("tokens/", {"email": user.email, "password": cast.PASSWORD}).status == 201
    assert (seen.outside, seen.entered) == ([], 1)


@pytest.mark.parametrize("cell", [cell for cell in MATRIX if cell[0] == "GET"], ids=" ".join)
def test_reading_writes_nothing_but_who_read(
    world: World, cell: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A GET may note who read an assessment (it does so inside the door), and nothing else."""
    for user in list(world.people().values())[1:]:
        with undone():
            path = MATRIX[cell].path(world)  # made before anything is counted
            with written_outside_the_door(monkeypatch) as seen:
                Api(user).ask(cell[0], path)
        assert seen.outside == []
