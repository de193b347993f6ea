"""Every instant that the API tells, call by call."""

import pytest

from tests.functional.api.client import schema
from tests.functional.api.instants import LOCAL, instants
from tests.functional.api.judging import Caller
from tests.functional.api.matrix import MATRIX, ROLES
from tests.functional.api.world import World

pytestmark = pytest.mark.one_database


@pytest.mark.parametrize("cell", sorted(MATRIX), ids=" ".join)
def test_every_instant_is_told_with_z(world: World, cell: tuple[str, str]) -> None:
    """What an answer says can be put into an address as it is; only a reader's wall time bears an
    offset."""
    caller = Caller(world, cell)
    reply = caller.send(caller.body or None)
    if not reply.body or "json" not in reply.headers["Content-Type"]:
        return
    for name, told in instants(reply.json):
        assert name in LOCAL or told.endswith("Z"), (cell, name, told)


def test_the_walk_has_answers_to_read() -> None:
    """At least every other call of the matrix answers somebody with a body."""
    successes = [cell for cell, route in MATRIX.items() if min(route.cells) < 300]
    assert len(successes) > len(schema()["paths"]) // 2
    assert len(ROLES) == 6
