"""The part of the authorisation matrix that is about owed lessons and the accounts of a term."""

from typing import Any

from tests.functional.api.matrix_rows import Route, everybody
from tests.functional.api.world import World


def carried_in(world: World) -> dict[str, Any]:
    """A lesson owed from before, for the term of the weekly place."""
    return {
        "student": world.learner.pk,
        "offering": world.weekly.offering_id,
        "term": world.weekly.term_id,
        "use_by": "2027-04-09",
        "reason": "Owed since autumn",
    }


_ADMIN = (403, 403, 403, 403, 403, 200)

OWED: dict[tuple[str, str], Route] = {
    ("GET", "terms/<id:pk>/accounts/"): Route(
        lambda w: f"terms/{w.weekly.term_id}/accounts/", everybody(200)
    ),
    ("GET", "owed-lessons/"): Route(lambda w: "owed-lessons/", everybody(200)),
    ("POST", "owed-lessons/"): Route(
        lambda w: "owed-lessons/",
        (403, 403, 403, 403, 403, 201),
        carried_in,
    ),
    ("GET", "owed-lessons/<id:pk>/"): Route(
        lambda w: f"owed-lessons/{w.owed.pk}/", (200, 404, 404, 404, 404, 200)
    ),
    ("POST", "owed-lessons/<id:pk>/extend/"): Route(
        lambda w: f"owed-lessons/{w.owed.pk}/extend/",
        _ADMIN,
        lambda w: {"use_by": "2027-05-01", "reason": "A long illness"},
    ),
    ("POST", "owed-lessons/<id:pk>/settle/"): Route(
        lambda w: f"owed-lessons/{w.owed.pk}/settle/", _ADMIN, lambda w: {"reason": "Refunded"}
    ),
    ("POST", "owed-lessons/<id:pk>/carry/"): Route(
        lambda w: f"owed-lessons/{w.owed.pk}/carry/",
        _ADMIN,
        lambda w: {"term": w.next_term.pk, "use_by": "2027-05-01", "reason": "No time left"},
    ),
}
