"""Statements of hours that are refused."""

from tests.functional.api.client import Reply
from tests.functional.api.ways import admin, twice
from tests.functional.api.world import World


def states(world: World, **change: object) -> Reply:
    """A statement of Ilse's December, with a change."""
    sent = {"first_on": "2025-12-01", "last_on": "2025-12-31", "instructor": world.school.ilse.pk}
    return admin(world).post("statements/", {**sent, **change})


def corrected_again(world: World) -> Reply:
    """A correction after which nothing differs, once more."""
    path = f"statements/{world.statement.pk}/correct/"
    return twice(lambda: admin(world).post(path, match="*"))
