"""The part of the authorisation matrix that is about guardianships, the bar on one, and what needs
an admin.
"""

from accounts.models import Guardianship
from tests.functional.api.matrix_rows import Cells, Route
from tests.functional.api.world import World

ADMINS: Cells = (403, 403, 403, 403, 403, 200)


def barred_row(world: World) -> Guardianship:
    return world.barred.guardianships.get()


PEOPLE: dict[tuple[str, str], Route] = {
    ("GET", "needs/"): Route(lambda w: "needs/", ADMINS),
    ("GET", "guardianships/"): Route(lambda w: "guardianships/", ADMINS),
    ("GET", "guardianships/<id:pk>/"): Route(
        lambda w: f"guardianships/{barred_row(w).pk}/", ADMINS
    ),
    ("POST", "guardianships/<id:pk>/bar/"): Route(
        lambda w: f"guardianships/{w.second.pk}/bar/",
        ADMINS,
        lambda w: {"reason": "See the file."},
    ),
    ("POST", "guardianships/<id:pk>/lift-bar/"): Route(
        lambda w: f"guardianships/{barred_row(w).pk}/lift-bar/", ADMINS
    ),
}
