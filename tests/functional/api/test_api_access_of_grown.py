"""Who may do what for a grown child who has no account: every route, as every kind of person, in
every verb.
"""

from collections.abc import Callable
from functools import partial

import pytest

from tests.functional.api.client import Api, undone
from tests.functional.api.matrix import MATRIX, NO_STUDENT, ONCE_GUARDIANS, ROLES
from tests.functional.api.school import School
from tests.functional.api.world import World, make_world

pytestmark = [pytest.mark.one_database, pytest.mark.heavy]

THE_GROWN_CHILD_S_OWN = {
    "students/<id:pk>/assessments/",
    "students/<id:pk>/assessments/latest/",
    "students/<id:pk>/practice/",
    "students/<id:pk>/practice/tick/",
    "students/<id:pk>/practice/untick/",
    "students/<id:pk>/export/",
    "students/<id:pk>/access-export/",
    "students/<id:pk>/privacy/",
    "students/<id:pk>/privacy/take-back/",
}
"""What whoever answered for a child neither reads nor changes once the child is of age."""


@pytest.fixture(scope="module")
def makes_world() -> Callable[[School], World]:
    return partial(make_world, has_account=False)


@pytest.mark.parametrize("cell", MATRIX, ids=" ".join)
def test_authorisation_matrix_of_a_grown_child_without_an_account(
    world: World, cell: tuple[str, str]
) -> None:
    """Whoever answered for a child goes on booking for them, and reads no note of theirs; nor does
    anybody else gain a thing.
    """
    route, seen = MATRIX[cell], {}
    for role, user in world.people().items():
        with undone():
            seen[role] = (
                Api(user).ask(cell[0], route.path(world), route.body(world), match="*").status
            )
    owner, *others = route.cells
    is_the_childs = cell[1].startswith("students/<id:pk>/assessments/")
    owner = 404 if is_the_childs or cell[1] in THE_GROWN_CHILD_S_OWN else owner
    ended = {
        "guardian of a grown child": owner,  # the same person as the owner
        **dict.fromkeys(ONCE_GUARDIANS[1:], NO_STUDENT.get(cell, route.cells[1])),
    }
    assert seen == {"nobody": 401, **dict(zip(ROLES, (owner, *others), strict=True)), **ended}
