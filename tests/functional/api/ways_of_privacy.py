"""Requests about a person's own data that are refused."""

from collections.abc import Callable

from tests.functional.api.client import Reply
from tests.functional.api.ways import admin, owner, twice
from tests.functional.api.world import World


def approved_again(world: World) -> Reply:
    """An erasure that has been approved."""
    path = f"students/{world.learner.pk}/privacy/approve/"
    return twice(lambda: admin(world).post(path, {"wanted": "erasure"}))


def fetched_too_early(world: World) -> Reply:
    """An access export that no admin has approved."""
    world.learner.privacy_requests.update(approved_at=None)
    return owner(world).get(f"students/{world.learner.pk}/access-export/")


PRIVACY_REFUSED: dict[tuple[str, str, int], Callable[[World], Reply]] = {
    ("GET", "students/<id:pk>/export/", 422): lambda w: admin(w).get(
        f"students/{w.learner.pk}/export/"
    ),
    ("GET", "students/<id:pk>/access-export/", 409): fetched_too_early,
    ("POST", "students/<id:pk>/privacy/", 409): lambda w: owner(w).post(
        f"students/{w.learner.pk}/privacy/", {"wanted": "erasure"}
    ),
    ("POST", "students/<id:pk>/privacy/approve/", 409): approved_again,
}
